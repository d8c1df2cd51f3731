package stats

//go:generate go run ../assembly -routines fetch -out fetch_amd64.s

// Fetch asks the memory for numbers of a picture that are soon looked at, counted from
// one of them on, so that they are at hand then: what lies scattered over a large picture
// takes far longer to come than to work on. Places outside the picture do no harm. It
// changes nothing but time.
func Fetch(picture []float32, from int, at []int32) {
	if len(at) > 0 {
		fetchNumbers(&picture[from], &at[0], len(at))
	}
}

//go:noescape
func fetchNumbers(from *float32, at *int32, n int)
