// Assembly writes the vector routines of other packages, for amd64 with AVX2; go
// generate in those packages runs it. Each routine stands beside a plain twin,
// which other processors run, which takes what is left at the end of a row, and
// which its test holds it to for every length up to 257.
//
// What the benchmarks of the packages show, data in the cache, on an AMD EPYC of
// family 25, model 17, beside other work: times as fast as the plain twin.
//
//	decodeShorts    9   every 16-bit sample that is read
//	floatShorts    14   every sample of a sub
//	rangeRows      12   every sample of a calibration series
//	squareRows      3   those of the rows whose pixels have their noise told
//	calmMeans      10   every pixel of a master
//	subtractRamps  17  every pixel of a sub, as the next
//	topOfRow       17
//	addRow          5
//	addFour        12   every pixel of a sub
//	sumRows         5   the same, several at once
//	addPairs        4
//	nextReaching    5   a quarter as many, or all where stars are narrow
//	blendRows       7   every eighth pixel
//	takeRow         3   every pixel of a sub with a master
//	divideRow      10
//	addWithin       3   every eleventh row of a sub
//	ranked          3   the ring around every candidate (times as fast as selecting)
//	weighWindow     8   the matched filter at candidates
//	profileRows     4  every pixel of a fitted star, at every step
//	normalProducts  9  the same
//
// And fetch, which works on nothing: what star after star needs of a picture is asked
// for before its turn, which makes the search 1.1 times as fast.
package main

import (
	"flag"
	"fmt"
	"os"

	"github.com/mmcloughlin/avo/build"
)

// routines by the name of the file that they are written to.
var routines = map[string]func(){
	"shorts":   shorts,
	"calm":     calmMeans,
	"rangerow": func() { rangeRows(); squareRows() },
	"fetch":    fetch,
	"floatrow": floatRows,
	"ranked":   ranked,
	"window":   weighWindow,
	"profile":  func() { profileRows(); normalProducts() },
}

func main() {
	name := flag.String("routines", "", "which: one of the table")
	flag.Parse()
	write, ok := routines[*name]
	if !ok {
		fmt.Fprintf(os.Stderr, "assembly: there are no routines %q\n", *name)
		os.Exit(2)
	}
	build.ConstraintExpr("amd64")
	write()
	build.Generate()
}
