package frames

// Preview is a picture of a frame made small by averaging whole blocks of
// pixels, row 0 at the bottom as stored.
type Preview struct {
	Width, Height int
	Step          int // source pixels per preview pixel, along x and y
	Pixels        []float32
	Crops         []Crop // pieces at full resolution: four corners and the centre
}

// Crop is a rectangle of the frame at full resolution.
type Crop struct {
	X, Y          int // first pixel in the frame
	Width, Height int
	Pixels        []float32
}
