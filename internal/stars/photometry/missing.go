package photometry

// missingOf is how many of some stars are missing, and how many chance leaves out.
func missingOf(dues []dueStar) (missing, expected float64) {
	for _, d := range dues {
		expected += max(1-d.odds, lostLeast)
		if d.seen == nil {
			missing++
		}
	}
	return missing, expected
}
