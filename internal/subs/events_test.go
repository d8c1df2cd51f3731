package subs

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/names"
)

// letters make a night of five-minute subs: one letter each, C cloud, h haze,
// T trailed, W twilight, dot good, X unreadable; lower-case filter changes do
// not matter, so every other sub has another filter.
func letters(night string) []*Sub {
	var subs []*Sub
	for i, r := range night {
		s := &Sub{Start: begin.Add(time.Duration(i) * 5 * time.Minute), Exposure: 300, Verdict: Keep, Filter: names.Name(rune('A' + i%2))}
		if c := map[rune]Cause{'C': Cloud, 'h': Haze, 'T': Trailed, 'W': Twilight, 'X': Unreadable, 'N': NoStars}[r]; c != "" {
			s.Verdict, s.Causes = Cull, []Cause{c}
		}
		subs = append(subs, s)
	}
	return subs
}

// brief is an event in a line.
func brief(e Event) string {
	return fmt.Sprintf("%s %s to %s: %d subs", e.Cause, e.Start.Format("15:04"), e.End.Format("15:04"), e.Subs)
}

// What happened in one night does not go on in another.
func TestEventsEndWithTheNight(t *testing.T) {
	subs := letters("CCCCCC")
	for _, s := range subs[3:] {
		s.Start = s.Start.Add(24 * time.Hour)
	}
	got := events(subs)
	if len(got) != 2 || brief(got[0]) != "cloud 20:00 to 20:15: 3 subs" || brief(got[1]) != "cloud 20:15 to 20:30: 3 subs" || !got[0].Dated || !got[1].Dated {
		t.Errorf("%+v", got)
	}
}

func TestEvents(t *testing.T) {
	for _, c := range []struct {
		night string
		want  []string
	}{
		{"..........", nil},
		{"..C.......", nil},
		{"..CCC.....", []string{"cloud 20:10 to 20:25: 3 subs"}},
		{"..CC.CC...", []string{"cloud 20:10 to 20:35: 4 subs"}},
		{"..CC..CC..", []string{"cloud 20:10 to 20:20: 2 subs", "cloud 20:30 to 20:40: 2 subs"}},
		{"..C.C.C...", nil}, // single subs, no run
		{"..CC.C....", []string{"cloud 20:10 to 20:20: 2 subs"}},
		{"..CXC.....", []string{"cloud 20:10 to 20:25: 2 subs"}}, // what cannot be read does not show that it was clear
		{".hhCNChh..", []string{"haze 20:05 to 20:40: 7 subs"}},
		{"TTT...WWWW", []string{"trailed 20:00 to 20:15: 3 subs", "twilight 20:30 to 20:50: 4 subs"}},
		{"TTCC......", []string{"trailed 20:00 to 20:10: 2 subs", "cloud 20:10 to 20:20: 2 subs"}},
	} {
		var got []string
		for _, e := range events(letters(c.night)) {
			got = append(got, brief(e))
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s: %s", c.night, diff)
		}
	}
}

// A trouble bears the name of the cause that leads most of its subs, not of the first.
func TestEventBearsItsMostFrequentCause(t *testing.T) {
	for _, c := range []struct {
		causes []Cause
		want   Cause
	}{{[]Cause{Haze, Cloud, Cloud}, Cloud}, {[]Cause{Haze, Haze, Cloud}, Haze}, {[]Cause{Haze, Cloud}, Haze}} {
		var bad []*Sub
		for _, cause := range c.causes {
			bad = append(bad, &Sub{Causes: []Cause{cause}})
		}
		if got := event(bad).Cause; got != c.want {
			t.Errorf("%v: %s, want %s", c.causes, got, c.want)
		}
	}
}
