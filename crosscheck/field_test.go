package crosscheck

import (
	"math"
	"path/filepath"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"fitsqa/internal/stats"
)

// TestFieldOutput holds subs.csv of the whole program to Moffat fits by scipy
// and to another program's measurement from the frames' own headers.
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
