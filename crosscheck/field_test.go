package crosscheck

import (
	"math"
	"path/filepath"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"fitsqa/internal/stats"
)

// TestFieldOutput holds subs.csv of the whole program to Moffat fits by scipy,
// to another program's measurement from the frames' own headers, and to what convolving one
// sub into the others tells.
func TestFieldOutput(t *testing.T) {
	if testing.Short() {
		t.Skip("measures a folder of real subs")
	}
	folder := realFrames(t, "field-a")
	rows := readTable(t, filepath.Join(check(t, folder), "subs.csv"))
	fits := readTable(t, filepath.Join(referenceFolder, "field-a-moffat.csv"))
	header := readTable(t, filepath.Join(folder, "header_measures.csv"))
	if len(rows) != len(header) || len(fits) != len(header) {
		t.Fatalf("%d rows for %d subs and %d fitted", len(rows), len(header), len(fits))
	}

	var ours, theirs table
	var width, shape []float64
	for _, want := range fits {
		got := rows.byFile(t, want["file"])
		ours, theirs = append(ours, got), append(theirs, header.byFile(t, want["file"]))
		ratio := number(t, got, "fwhm_px") / number(t, want, "fwhm_px")
		diff := number(t, got, "ellipticity") - number(t, want, "ellipticity")
		width, shape = append(width, math.Abs(ratio-1)), append(shape, math.Abs(diff))
		t.Logf("%s: FWHM %s px, scipy %s (%+.1f %%); ellipticity %s, scipy %s (%+.3f)", want["file"],
			got["fwhm_px"], want["fwhm_px"], 100*(ratio-1), got["ellipticity"], want["ellipticity"], diff)
	}

	// Both sides fit elliptical Moffat profiles, each to its own choice of isolated
	// stars and with its own weights, and these stars are not quite Moffat shaped
	// (reduced chi-square up to 9): 3 % and 0.02 in the median over the subs.
	if m := stats.Median(width); !(m <= 0.03) {
		t.Errorf("median difference of FWHM %.2f %%, want 3 %% at most", 100*m)
	}
	if m := stats.Median(shape); !(m <= 0.02) {
		t.Errorf("median difference of ellipticity %.3f, want 0.02 at most", m)
	}

	// The other program measured on an image smoothed to about 3 px, so the sizes
	// differ, most for sharp stars, but the order of the subs must not: scipy's fits
	// reach 0.990 and 0.975 against the same columns.
	if r := stat.Correlation(ours.column(t, "fwhm_px"), theirs.column(t, "pfwhm_px"), nil); !(r >= 0.98) {
		t.Errorf("correlation of width %.4f, want 0.98", r)
	} else {
		t.Logf("correlation of width with the headers' %.4f", r)
	}
	r := stat.Correlation(ranks(ours.column(t, "ellipticity")), ranks(theirs.column(t, "ellipticity_PFWHME")), nil)
	if !(r >= 0.96) {
		t.Errorf("rank correlation of elongation %.4f, want 0.96", r)
	}
	t.Logf("rank correlation of elongation with the headers' %.4f", r)
	holdLight(t, rows)
}

// holdLight holds the transparencies of subs 3.2 to 8.4 px wide, clear and hazy, to the sums
// of the kernels that make one sub of another.
func holdLight(t *testing.T, rows table) {
	t.Helper()
	var off, sharp, broad []float64
	for _, want := range readTable(t, filepath.Join(referenceFolder, "field-a-light.csv")) {
		got := rows.byFile(t, want["file"])
		ln := math.Log(number(t, got, "transparency") / number(t, want, "light"))
		off = append(off, ln)
		if number(t, got, "fwhm_px") > 6 {
			broad = append(broad, ln)
		} else {
			sharp = append(sharp, ln)
		}
	}
	usual := stats.Median(off) // both are relative, each to its own reference
	sum := 0.0
	for _, ln := range off {
		sum += (ln - usual) * (ln - usual)
	}
	// Stated errors are 0.01 to 0.02 in sharp subs and 0.03 in broad ones; kernels of 12 and 13 px
	// differ by 0.005.
	if rms := math.Sqrt(sum / float64(len(off))); !(rms < 0.025) {
		t.Errorf("transparencies scatter by %.3f about the kernels' sums, want 0.025 at most", rms)
	} else {
		t.Logf("transparencies scatter by %.4f about the kernels' sums", rms)
	}
	if d := stats.Median(broad) - stats.Median(sharp); !(math.Abs(d) < 0.045) {
		t.Errorf("broad subs are %+.3f off beside sharp ones, want 0.045 at most: one and a half of their errors", d)
	} else {
		t.Logf("broad subs are %+.4f off beside sharp ones", d)
	}
}

// ranks are places in order, from 0; equal values share their mean place.
func ranks(x []float64) []float64 {
	sorted := slices.Clone(x)
	slices.Sort(sorted)
	out := make([]float64, len(x))
	for i, v := range x {
		first, _ := slices.BinarySearch(sorted, v)
		last := first
		for last+1 < len(sorted) && sorted[last+1] == v {
			last++
		}
		out[i] = float64(first+last) / 2
	}
	return out
}
