package photometry

import (
	"runtime"

	"fitsqa/internal/parallel"
)

// eachField calls do with the number of every field, side by side.
func (z *zeroPoints) eachField(do func(j int)) {
	parallel.Items(len(z.fields), runtime.GOMAXPROCS(0), do)
}
