package say

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/plate"
	"fitsqa/internal/sensor"
	"fitsqa/internal/subs"
)

// constants are the values of a package's constants of a type, with the comment on each.
func constants(t *testing.T, folder, of string) map[string]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(folder, "*.go"))
	if err != nil || len(files) == 0 {
		t.Fatalf("%d files of %s: %v", len(files), folder, err)
	}
	values := map[string]string{}
	for _, path := range files {
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			spec, ok := n.(*ast.ValueSpec)
			if !ok || len(spec.Values) != 1 {
				return true
			}
			name := ""
			switch t := spec.Type.(type) {
			case *ast.SelectorExpr:
				name = t.Sel.Name
			case *ast.Ident:
				name = t.Name
			}
			if literal, ok := spec.Values[0].(*ast.BasicLit); ok && name == of {
				value, err := strconv.Unquote(literal.Value)
				if err != nil {
					t.Fatal(err)
				}
				values[value] = spec.Comment.Text()
			}
			return true
		})
	}
	return values
}

// Every fact that a package declares has its phrase, which tells the values that the
// comment there names and no others; and no phrase is left over.
func TestEveryFactHasItsPhrase(t *testing.T) {
	known := map[fact.Code]bool{}
	for _, folder := range []string{"../frames", "../subs", "../night", "../sensor", "../stack", "../worth", "../stars", "../dust", "../sky", "../stats", "../plate", "../calib", "../plan", "../compare", "../watch", "../ahead"} {
		for value, comment := range constants(t, folder, "Code") {
			code := fact.Code(value)
			if known[code] {
				t.Errorf("%s: two packages declare %s", folder, code)
			}
			known[code] = true
			phrase, ok := phrases[code]
			if !ok {
				t.Errorf("%s has no phrase", code)
			}
			named, _, _ := strings.Cut(strings.TrimSpace(comment), ";")
			for _, place := range placeholder.FindAllStringSubmatch(phrase, -1) {
				if !strings.Contains(" "+strings.ReplaceAll(named, ",", " ")+" ", " "+place[1]+" ") {
					t.Errorf("%s: %q tells %s, which %q does not name", code, phrase, place[1], comment)
				}
			}
		}
	}
	for code := range phrases {
		if !known[code] {
			t.Errorf("no package declares %s", code)
		}
	}
}

// A sub's sentence is what leads, between the user's own verdict and what changes none.
func TestSentenceOfSub(t *testing.T) {
	s := &subs.Sub{Findings: []subs.Finding{{Facts: []fact.Fact{
		fact.Of(subs.Width, fact.Number("fwhm_px", 4.9), fact.Number("times", 1.458), fact.Text("whose", "filter"), fact.Number("baseline_px", 3.36)),
		fact.Of(subs.NeighboursSharp), fact.Of(subs.CrossedLimit, fact.Number("limit", 1.4))}}, {Facts: []fact.Fact{fact.Of(subs.NoneSeen)}}}}
	why := "FWHM 4.9 px, 1.46 times the filter's 3.36, its neighbours are sharp: seeing or wind; limit 1.4"
	if got := Sub(s); got != why {
		t.Errorf("%q", got)
	}
	s.UserDecision, s.Verdict, s.Measured = true, subs.Keep, subs.Cull
	s.Remarks = []fact.Fact{fact.Of(subs.WideBesideSeason, fact.Number("times", 1.5), fact.Number("fwhm_arcsec", 3), fact.Number("season_arcsec", 2))}
	if got, want := Sub(s), "your decision: keep (measured: cull); "+why+"; its stars are 1.5 times as wide as those of the season's sharpest quarter (FWHM 3.0, there 2.0 arcsec)"; got != want {
		t.Errorf("%q", got)
	}
	if got := Sub(&subs.Sub{}); got != "" {
		t.Errorf("of a good sub: %q", got)
	}
}

// A fact without one of its values is seen in the sentence, not left out of it.
func TestFactWithoutItsValue(t *testing.T) {
	if got := Fact(fact.Of(subs.SunAt)); got != ", Sun at {sun_deg %.0f}°" {
		t.Errorf("%q", got)
	}
}

func TestSentenceOfEvent(t *testing.T) {
	e := subs.Event{Cause: subs.BrightSky, Start: evening, End: evening.Add(15 * time.Minute), Subs: 3}
	if got := Event(e); got != "bright sky 21:00 to 21:15: 3 subs" {
		t.Errorf("%q", got)
	}
	e.Dated = true
	if got := Event(e); got != "bright sky on 2026-03-14, 21:00 to 21:15: 3 subs" {
		t.Errorf("%q", got)
	}
}

func TestSentenceOfEconomics(t *testing.T) {
	ec := &subs.Economics{Stacked: 4, Plain: []float64{1, 1.1}, Scaled: []float64{1.1, 1.21}, Weighted: []float64{1.2, 1.2}, FWHM: []float64{3.4, 3}, Ellipticity: []float64{0.1, 0.1},
		BestDrop: 1, UserDrop: 1, UserPlain: 1.1, UserScaled: 1.21, UserWeighted: 1.14, UserFWHM: 3, UserEllipticity: 0.1, UserClearSeconds: 600,
		PixelScale: 2, HalfTransparency: 0.5, HalfWeight: math.NaN()}
	want := "culling 1 of 4 changes the signal to noise of a scaled average by +10 %, of a plain one by +10 %, of a weighted one by −5 % (10 min of clear sky); " +
		"and the stack's FWHM from 3.40 to 3.00 px (from 6.80 to 6.00″), its ellipticity still 0.10; by noise alone the best scaled average drops the worst 1 (+10 %)"
	if got := strings.ReplaceAll(Economics(ec), "\u00a0", " "); got != want {
		t.Errorf("%q", got)
	}
	ec.HalfWeight = 0.25
	if got := strings.ReplaceAll(Economics(ec), "\u00a0", " "); !strings.HasSuffix(got, "; a sub at transparency 0.50 still adds 0.25 of a clear one to a weighted stack") {
		t.Errorf("%q", got)
	}
	ec.Scaled[0], ec.HalfWeight = 0, math.NaN()
	want = strings.Replace(want, "of a scaled average by +10 %, ", "", 1)
	want = strings.Replace(want, "(+10 %)", "(one without measurable light, scaled up, drowns the rest)", 1)
	if got := strings.ReplaceAll(Economics(ec), "\u00a0", " "); got != want {
		t.Errorf("%q", got)
	}
}

// Every cause has its words: what it makes of a sub and of several.
func TestEveryCauseHasItsWords(t *testing.T) {
	causes := constants(t, "../subs", "Cause")
	if len(causes) < 10 {
		t.Fatalf("causes %v", causes)
	}
	for code := range causes {
		if p := predicates[subs.Cause(code)]; p.one == "" || p.many == "" {
			t.Errorf("%s has no words", code)
		}
	}
	if len(predicates) != len(causes) {
		t.Errorf("%d causes have words, there are %d", len(predicates), len(causes))
	}
}

// What is too few is told as people count it, nothing as nothing.
func TestTooFew(t *testing.T) {
	for n, want := range map[float64]string{
		0: "no star: too few to know a field by", 1: "only 1 star: too few to know a field by", 7: "only 7 stars: too few to know a field by",
	} {
		if got := Fact(fact.Of(plate.FewStars, fact.Number("stars", n))); got != want {
			t.Errorf("%g: %q, want %q", n, got, want)
		}
	}
}

// A place of a glow follows its preposition.
func TestGlowPlaces(t *testing.T) {
	for place, want := range map[fact.Code]string{
		"": "", sensor.Inside: " inside the frame", sensor.Right: " at the right edge", sensor.UpperLeft: " in the upper left corner",
	} {
		if got := at(place); got != want {
			t.Errorf("%s: %q, want %q", place, got, want)
		}
	}
}
