package night

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
)

const (
	// What a sub must be like beside the tied ones so that not being tied proves
	// another field: cloud takes stars, a blow draws them out, lost focus melts them,
	// and hot pixels are sharper than any star (common practice, no source).
	strayStars      = 0.5
	straySharpest   = 0.6
	strayWidest     = 1.6
	strayElongation = 0.25
)

// partFields gives subs that bear the name of a target but by their stars show
// another field, or another panel of a mosaic, a name and stacks of their own, so that
// nothing of them is compared with the target's: neither settings nor exposure, width or
// light. The proof is that they cannot be tied to the others and can be tied to each other, or,
// of one or two, that they show as many stars as the others, as sharp and as round.
// What can be tied to nothing otherwise proves nothing, it may be cloud.
func (r *Result) partFields(known *memory) {
	stacks := len(r.Sorted.Stacks)
	for _, same := range sameFields(r.Subs) {
		for field := 2; ; field++ {
			other := panel(same)
			beside := other != nil
			if !beside {
				other = otherField(same)
			}
			if other == nil {
				other = strays(same)
			}
			if other == nil {
				break
			}
			if rest := without(same, other); len(rest) < len(other) || len(rest) == len(other) && other[0] == same[0] {
				other = rest // the name stays with the most, of as many with the first
			}
			name := names.Name(strings.TrimSpace(fmt.Sprintf("%s field %d", other[0].Target, field)))
			r.Warnings = append(r.Warnings, parted(other, name))
			stacks = rename(other, name, stacks)
			known.tie(other)
			if same = without(same, other); beside || !slices.ContainsFunc(same, func(s *Sub) bool { return s.Align.Matched() }) {
				known.tie(same) // the others held the reference, or shared an edge's light
			}
		}
	}
	r.partSizes(stacks)
}

func parted(other []*Sub, name names.Name) fact.Fact {
	target, as := fact.Text("target", quoted(other[0].Target)), fact.Text("as", quoted(name))
	if len(other) == 1 {
		return fact.Of(OtherFieldSub, target, as, fact.Text("file", frames.Printable(other[0].File)))
	}
	return fact.Of(OtherFieldSubs, fact.Count("subs", len(other)), target, as)
}

func quoted(n names.Name) string {
	if n == "" {
		return "after no target"
	}
	return frames.Printable(string(n))
}

// otherField are the subs of one name that are tied to each other and not to the
// rest; nil when there are none.
func otherField(same []*Sub) []*Sub {
	var loose []*Sub
	for _, s := range same {
		if !s.Align.Matched() && s.Field.Count >= provingPeak {
			loose = append(loose, s)
		}
	}
	if len(loose) < fewestOther || len(loose) == len(same) {
		return nil
	}
	alignments, _ := registration.Align(fields(loose))
	var tied []*Sub
	for i := range alignments {
		if alignments[i].Matched() {
			tied = append(tied, loose[i])
		}
	}
	if len(tied) < fewestOther {
		return nil
	}
	return tied
}

// strays are a sub that is not tied to its target's others for no other reason than
// that it shows another field, and those that are tied to it; nil when there is none.
func strays(same []*Sub) []*Sub {
	tied := tiedOf(same)
	var loose []*Sub
	for _, s := range same {
		if !s.Align.Matched() && sureStars(s.Field) >= provingPeak {
			loose = append(loose, s)
		}
	}
	if len(tied) < fewestOther {
		return nil
	}
	beside := map[names.Name]company{} // by filter
	loose = slices.DeleteFunc(loose, func(s *Sub) bool {
		if _, ok := beside[s.Filter]; !ok {
			beside[s.Filter] = companyOf(s, tied)
		}
		return !s.clearlySeen(s.Field.FWHM.V, sureStars(s.Field), beside[s.Filter])
	})
	if len(loose) == 0 {
		return nil
	}
	found := loose[:1]
	for _, s := range loose[1:] {
		if al, _ := registration.Align(fields([]*Sub{loose[0], s})); al[0].Matched() && al[1].Matched() {
			found = append(found, s)
		}
	}
	return found
}

// company is what the tied subs are like that a sub is held against: those of its filter,
// or of all filters where there are too few; medians.
type company struct{ width, stars float64 }

func companyOf(s *Sub, tied []*Sub) company {
	through := slices.DeleteFunc(slices.Clone(tied), func(o *Sub) bool { return o.Filter != s.Filter })
	if len(through) < fewestOther {
		through = tied
	}
	var widths, counts []float64
	for _, o := range through {
		counts = append(counts, sureStars(o.Field))
		if o.Field.FWHM.OK() { // rings have no width
			widths = append(widths, o.Field.FWHM.V)
		}
	}
	return company{stats.Median(widths), stats.Median(counts)}
}

// clearlySeen tells whether a sub shows stars as many, sharp and round as the tied
// subs, by its stars' width and their number on the tied ones' scale of pixels. Only sure
// stars count: what is left of a field under cloud are detections that no other sub has.
func (s *Sub) clearlySeen(wide, count float64, beside company) bool {
	width := wide / beside.width
	return count >= strayStars*beside.stars &&
		width > straySharpest && width < strayWidest && s.Field.Ellipticity.V*s.Field.Coherence.V < strayElongation
}

// sureSNR is the signal to noise from which a detection is surely a star.
const sureSNR = 10

// sureStars is how many stars of a field are.
func sureStars(f *stars.Field) float64 {
	n := 0.0
	for i := range f.Stars {
		if f.Stars[i].SNR >= sureSNR {
			n++
		}
	}
	return n
}

// rename gives subs another target, and for each of their stacks a new one,
// numbered from next on; it returns the number after the last.
func rename(all []*Sub, name names.Name, next int) int {
	for _, s := range all {
		s.Target = name
	}
	return regroup(all, next)
}

// regroup gives subs for each of their stacks a new one, numbered from next on; it returns
// the number after the last.
func regroup(all []*Sub, next int) int {
	of := map[int]int{}
	for _, s := range all {
		if _, ok := of[s.Stack]; !ok {
			of[s.Stack] = next
			next++
		}
		s.Stack = of[s.Stack]
	}
	return next
}

// partSizes does the same for subs of another size than most of their target's and
// camera's, binned or cropped, which are tied among themselves at most. They show another
// field when none can be tied to the others and one shows stars as many, sharp and round
// on the scale of the sky. A size that spans much less sky than the others, or more,
// proves nothing: too few of its brightest stars are theirs. New stacks are numbered from
// stacks on.
func (r *Result) partSizes(stacks int) {
	for _, of := range partition(measured(r.Subs), func(s *Sub) View { return View{Target: s.Target.Key(), Optics: string(s.Camera.Key())} }) {
		sizes := sameFields(of)
		most := slices.MaxFunc(sizes, func(a, b []*Sub) int { return cmp.Compare(len(tiedOf(a)), len(tiedOf(b))) })
		tied := tiedOf(most)
		if len(tied) < fewestOther {
			continue
		}
		field := 2
		for _, size := range sizes {
			if size[0] == most[0] || !elsewhere(size, tied) {
				continue
			}
			name := names.Name(strings.TrimSpace(fmt.Sprintf("%s field %d of %dx%d", size[0].Target, field, size[0].Width, size[0].Height)))
			r.Warnings = append(r.Warnings, parted(size, name))
			stacks = rename(size, name, stacks)
			field++
		}
	}
}

// elsewhere tells whether subs of one size prove another field than the tied ones show.
func elsewhere(size, tied []*Sub) bool {
	proved := false
	for _, s := range size {
		if al, _ := registration.Align(fields(append([]*Sub{s}, tied[:fewestOther]...))); al[0].Matched() {
			return false
		}
		pixel := float64(s.Binning) / float64(tied[0].Binning)
		area := pixel * pixel * float64(s.Width*s.Height) / float64(tied[0].Width*tied[0].Height)
		if area < 0.5 || area > 2 || sureStars(s.Field) < provingPeak {
			continue
		}
		proved = proved || s.clearlySeen(s.Field.FWHM.V*pixel, sureStars(s.Field)/area, companyOf(s, tied))
	}
	return proved
}
