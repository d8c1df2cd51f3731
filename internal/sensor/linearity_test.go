package sensor

import (
	"fmt"
	"math"
)

// The linearity example of EMVA 1288 release 3.1 as computed from the formulas
// (from memory): LE = 0.3541788031 %.
func ExampleTransferPoint_linearity() {
	h := []float64{1, 2, 4, 6, 8, 10}
	y := []float64{1000, 2010, 4000, 5990, 8020, 9900}
	sum := 0.0
	for _, d := range relativeDeviations(h, y) {
		fmt.Printf("%.7f\n", d)
		sum += math.Abs(d)
	}
	fmt.Printf("LE %.10f\n", sum/6)
	// Output:
	// -0.2533543
	// 0.5005146
	// 0.1279305
	// 0.0035246
	// 0.4422409
	// -0.7975079
	// LE 0.3541788031
}
