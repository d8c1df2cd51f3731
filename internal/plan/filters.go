package plan

import (
	"math"
	"regexp"
	"sort"
	"strconv"

	"fitsqa/internal/names"
)

// UsualFilter is the filter that a name is a usual one of, a bandwidth in it left out.
func UsualFilter(name names.Name) (f names.Filter, usual bool) {
	return names.Name(nanometres.ReplaceAllString(string(name), "")).Filter()
}

// passesAll tells that a filter's name is none of a colour or of a line.
func passesAll(filter names.Name) bool {
	f, usual := UsualFilter(filter)
	return !usual || f.All()
}

var nanometres = regexp.MustCompile(`(?i)(\d+(?:[.,]\d+)?)\s*nm`)

// bandwidth in nm as the user gave it, else as the filter's name tells ("Ha 7nm"),
// else NaN.
func bandwidth(f Filter) float64 {
	if f.BandwidthNM > 0 {
		return f.BandwidthNM
	}
	if m := nanometres.FindStringSubmatch(string(f.Name)); m != nil {
		s := []byte(m[1])
		for i := range s {
			if s[i] == ',' {
				s[i] = '.'
			}
		}
		// Above 200 nm the number is a wavelength, not a width.
		if w, err := strconv.ParseFloat(string(s), 64); err == nil && w > 0 && w <= 200 {
			return w
		}
	}
	return math.NaN()
}

// otherBandwidths that are sold (common practice, no source), nm: the next
// narrower and the next wider one.
func otherBandwidths(own float64) []float64 {
	common := []float64{3, 7, 12, 100, 300}
	var list []float64
	if i := sort.SearchFloat64s(common, own/1.2); i > 0 {
		list = append(list, common[i-1])
	}
	if i := sort.SearchFloat64s(common, own*1.2); i < len(common) {
		list = append(list, common[i])
	}
	return list
}

// OtherBandwidth is the shortest exposure if the filter were narrower or
// wider: continuum sky scales with bandwidth, the dark current does not.
// Light pollution in single lines does not follow this.
type OtherBandwidth struct {
	BandwidthNM float64
	Shortest    float64 // s
}
