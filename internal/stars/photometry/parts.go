package photometry

import "fitsqa/internal/stars"

// fewInPart is the number of stars, over the mean of a field's parts, that a covered part
// holds at most.
const fewInPart = 0.6

// starsForPart is the mean number of stars from which on a field is cut into so many parts.
const starsForPart = 4

// sideFor is into how many parts along each side a field is cut for so many stars.
func sideFor(n int) int {
	side := stars.Parts
	for side > 1 && n < starsForPart*side*side {
		side /= 2
	}
	return side
}

// starsIn is the number of stars in each of side x side parts of a field.
func starsIn(f *stars.Field, side int) []float64 {
	count := make([]float64, side*side)
	for _, s := range f.Stars {
		count[stars.PartOf(s.X, s.Y, f.Width, f.Height, side)]++
	}
	return count
}
