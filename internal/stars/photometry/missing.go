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

// mostGone is the share of a part's stars that are missing where it is covered, rather than
// poor in sure stars.
const mostGone = 0.7

// lacking tells whether a part of a field, of which enough stars tell, lacks nearly all of them.
func lacking(part []*dueStar) bool {
	return len(part) >= dueFewest && goneOf(part) >= mostGone*float64(len(part))
}

// missingOf is how many of some stars are missing, and how many chance leaves out.
func missingOf(dues []*dueStar) (missing, expected float64) {
	for _, d := range dues {
		expected += max(1-d.odds, lostLeast)
	}
	return goneOf(dues), expected
}
