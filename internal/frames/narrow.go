package frames

// narrowStars counts stars that are too narrow for blocks of 2x2 pixels: pixels 8 sigma
// above those two columns and two rows away, of which all four neighbours are raised, too,
// by narrowRaised of the height. Each is compared with pixels two away, which have its
// colour in a mosaic. A hot pixel raises its neighbours only by what leaks between pixels;
// where so many are hot that some lie side by side, single ones are many times as many as
// such groups, and the groups are no stars.
func (s *lookSums) narrowStars(sigma float64) int {
	found, lone := 0, 0
	for _, px := range s.whole {
		stars, others := brightPixels(px, s.cols, sigma)
		found, lone = found+stars, lone+others
	}
	if float64(found) < narrowAmongLone*float64(lone) {
		return 0
	}
	return found
}

// brightPixels counts the pixels of a strip that stand out, with their neighbours and
// without.
func brightPixels(px []float32, w int, sigma float64) (stars, lone int) {
	limit := float32(8 * sigma)
	for y := 3; y < len(px)/w-3; y++ {
		row := px[y*w:][:w]
		up, down := px[(y+2)*w:][:w], px[(y-2)*w:][:w]
		for x := 3; x < w-3; x++ {
			v := row[x]
			if !(v-row[x-2] >= limit && v-row[x+2] >= limit && v-up[x] >= limit && v-down[x] >= limit) {
				continue // nearly all end here, and blank pixels and those beside them: nothing is known of them
			}
			i := y*w + x
			height := v - (row[x-2]+row[x+2]+up[x]+down[x])/4
			enough := max(float32(3*sigma), narrowRaised*height)
			if raised(px, i-1, w, enough) && raised(px, i+1, w, enough) && raised(px, i-w, 1, enough) && raised(px, i+w, 1, enough) {
				stars++
			} else {
				lone++
			}
		}
	}
	return stars, lone
}

// narrowRaised is less than a star 1.4 px wide, in the middle of a pixel, gives each
// neighbour (exp(-4 ln 2/1.96) = 0.24 of its light there) and more than leaks from a hot
// pixel, a few hundredths (common practice, no source). narrowAmongLone is the least share
// of stars among the bright pixels: were one pixel in twenty hot, 6 in a million had four
// such neighbours.
const narrowRaised, narrowAmongLone = 0.12, 0.01

// raised tells whether a pixel stands above the mean of those two to both sides of it,
// across the line that joins it with the star's middle.
func raised(px []float32, i, across int, by float32) bool {
	return px[i]-(px[i-2*across]+px[i+2*across])/2 > by
}
