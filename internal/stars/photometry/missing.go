package photometry

// goneOf is how many of some stars are missing.
func goneOf(dues []*dueStar) (missing float64) {
	for _, d := range dues {
		if d.seen == nil {
			missing++
		}
	}
	return missing
}

// missingOf is how many of some stars are missing, and how many chance leaves out.
func missingOf(dues []*dueStar) (missing, expected float64) {
	for _, d := range dues {
		expected += max(1-d.odds, lostLeast)
	}
	return goneOf(dues), expected
}
