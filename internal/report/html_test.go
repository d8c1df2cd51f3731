package report

import (
	"bytes"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// No name or header text becomes markup: the page holds exactly the elements
// that the same night with harmless names has.
func TestHostileTextStaysText(t *testing.T) {
	hostile, tame := fakeNight(3), fakeNight(3)
	for i, s := range tame.Subs {
		s.File, s.Frame.Name, s.Target = "sub", "sub", "target"
		if hostile.Subs[i].Filter == "L\"'" {
			s.Filter = "L"
		}
	}
	for _, g := range tame.Verdicts.Groups {
		g.Target = "target"
	}
	a, b := elements(t, hostile), elements(t, tame)
	for tag, n := range a {
		if b[tag] != n {
			t.Errorf("%d elements %s, %d with harmless names", n, tag, b[tag])
		}
	}
	page := render(t, HTML, hostile)
	for _, s := range []string{"<script>window", "<img src=x", "\x1b", "\u202e", "\u200f"} {
		if strings.Contains(page, s) {
			t.Errorf("the page holds %q", s)
		}
	}
}

// elements counts the elements of the page, and its attributes that run code.
func elements(t *testing.T, r *night.Result) map[string]int {
	t.Helper()
	count := map[string]int{}
	z := html.NewTokenizer(strings.NewReader(render(t, HTML, r)))
	for {
		switch z.Next() {
		case html.ErrorToken:
			return count
		case html.StartTagToken, html.SelfClosingTagToken:
			token := z.Token()
			count[token.Data]++
			for _, a := range token.Attr {
				if strings.HasPrefix(a.Key, "on") {
					t.Errorf("attribute %s on %s", a.Key, token.Data)
				}
			}
		}
	}
}

// The page asks for nothing that is not in it.
func TestPageIsSelfContained(t *testing.T) {
	page := render(t, HTML, fakeNight(3))
	for _, m := range regexp.MustCompile(`(?:src|href)="([^"]{0,20})`).FindAllStringSubmatch(page, -1) {
		if !strings.HasPrefix(m[1], "data:") && !strings.HasPrefix(m[1], "#") {
			t.Errorf("the page refers to %q", m[1])
		}
	}
}

// Three hundred subs with their pictures stay under 25 MB, also when each is
// pure noise, which JPEG can do least about, and has a strip of it.
func TestPageSize(t *testing.T) {
	if testing.Short() {
		t.Skip("300 pictures of noise; TestPicturesBesideThePage has fewer")
	}
	r := fakeNight(144)
	for _, s := range r.Subs {
		if s.HasPicture() {
			s.SetPreview(noisePreview(320, 320, s.Preview().Crops))
		}
	}
	started := time.Now()
	var b bytes.Buffer
	if err := HTML(&b, r); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d subs: %.1f MB in %v", len(r.Subs), float64(b.Len())/1e6, time.Since(started).Round(time.Millisecond))
	if b.Len() > 25e6 {
		t.Errorf("page of %d bytes for %d subs", b.Len(), len(r.Subs))
	}
}

// noisePreview is a picture of nothing but noise, with pieces where the others are.
func noisePreview(w, h int, pieces []frames.Crop) *frames.Preview {
	rng := rand.New(rand.NewPCG(5, 6))
	noise := func(n int) []float32 {
		x := make([]float32, n)
		for i := range x {
			x[i] = float32(1000 + 10*rng.NormFloat64())
		}
		return x
	}
	p := &frames.Preview{Width: w, Height: h, Step: 20, Pixels: noise(w * h)}
	for _, c := range pieces {
		c.Pixels = noise(c.Width * c.Height)
		p.Crops = append(p.Crops, c)
	}
	return p
}

// Groups of one target, filter and exposure are told apart in the page's table as on the
// terminal.
func TestPageTellsGroupsApart(t *testing.T) {
	row := newGroupRow(groupSummary{Group: &subs.Group{Filter: "Ha", Apart: "gain 300"}})
	if row.Filter != "Ha gain 300" {
		t.Errorf("the filter's cell says %q", row.Filter)
	}
}
