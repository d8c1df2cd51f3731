package plan

import (
	"math"
	"slices"
	"sort"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Night is how one camera used one night. Times are s unless the name says otherwise.
type Night struct {
	Date       string // of the evening on which it began
	Camera     names.Name
	Start, End time.Time // from the first sub's start to the last one's end, UTC
	Yields     []Yield

	DarkHours     stats.Value // h with the Sun below -18°
	MoonlessHours stats.Value // h of these with the Moon below the horizon
	Dark          sky.Span    // the dark hours; empty when there are none or the site is unknown
	Shot          float64     // exposure of all subs
	ShotInDark    float64     // of that, in the dark hours
	DarkShare     stats.Value // ShotInDark over the dark hours, 0..1
	Between       float64     // lost between subs: download, dither, autofocus
	Pauses        []Pause     // longer gaps
	UnusedBefore  float64     // dark time before the first sub
	UnusedAfter   float64     // dark time after the last sub
}

// Pause is a gap between subs that is much longer than the usual one.
type Pause struct {
	Start, End time.Time
	Reason     fact.Code // MeridianFlip to FocusMoved; "" when the subs do not tell
}

// Seconds is the length of the pause.
func (p Pause) Seconds() float64 { return p.End.Sub(p.Start).Seconds() }

func nights(in Input) []Night {
	all := allSubs(in.Groups)
	var times []time.Time
	for _, s := range all {
		times = append(times, s.Start)
	}
	calendar := sky.NewCalendar(in.Site, times)
	type key struct {
		date   string
		camera names.Name
	}
	byNight := map[key][]*subs.Sub{}
	var keys []key
	for _, s := range all {
		if s.Start.IsZero() || slices.Contains(s.Causes, subs.Duplicate) { // a copy took no time of the night
			continue
		}
		k := key{calendar.Date(s.Start), s.Camera}
		if byNight[k] == nil {
			keys = append(keys, k)
		}
		byNight[k] = append(byNight[k], s)
	}
	sort.Slice(keys, func(i, j int) bool {
		if keys[i].date != keys[j].date {
			return keys[i].date < keys[j].date
		}
		return keys[i].camera < keys[j].camera
	})
	list := make([]Night, len(keys))
	for i, k := range keys {
		list[i] = use(in.Site, byNight[k])
		list[i].Date, list[i].Camera = k.date, k.camera
	}
	return list
}

func use(site *sky.Site, of []*subs.Sub) Night {
	of = append([]*subs.Sub(nil), of...)
	sort.SliceStable(of, func(i, j int) bool { return of[i].Start.Before(of[j].Start) })
	n := Night{Yields: yields(of), Start: of[0].Start}
	for _, s := range of {
		n.Shot += stats.OrZero(s.Exposure)
		if e := end(s); e.After(n.End) {
			n.End = e
		}
	}
	n.gaps(of)
	n.darkness(site, of)
	return n
}

func end(s *subs.Sub) time.Time {
	return s.Start.Add(time.Duration(stats.OrZero(s.Exposure) * float64(time.Second)))
}

// shortestPause is the gap in s from which a pause may be meant (common
// practice, no source): dithers settle faster.
const shortestPause = 60.0

// gaps tells the routine ones between subs from pauses: a gap is a pause when
// it is longer than a minute and than three times the usual gap.
func (n *Night) gaps(of []*subs.Sub) {
	type gap struct {
		before, after *subs.Sub
		from          time.Time
		seconds       float64
	}
	var gaps []gap
	var lengths []float64
	free := end(of[0])
	for i, s := range of[1:] {
		if d := s.Start.Sub(free).Seconds(); d > 0 {
			gaps = append(gaps, gap{of[i], s, free, d})
			lengths = append(lengths, d)
		}
		if e := end(s); e.After(free) {
			free = e
		}
	}
	usual := 0.0
	if len(lengths) > 0 {
		usual = stats.Median(lengths)
	}
	for _, g := range gaps {
		if g.seconds > math.Max(shortestPause, 3*usual) {
			n.Pauses = append(n.Pauses, Pause{g.from, g.after.Start, reason(g.before, g.after)})
		} else {
			n.Between += g.seconds
		}
	}
}

// reason for a pause, from what changed across it.
func reason(a, b *subs.Sub) fact.Code {
	switch {
	case a.PierSide != b.PierSide && a.PierSide != "" && b.PierSide != "",
		a.Align.Flipped != b.Align.Flipped && a.Target == b.Target && a.Align.RotationDeg.OK() && b.Align.RotationDeg.OK():
		return MeridianFlip
	case a.Target != b.Target:
		return TargetChange
	case a.Filter != b.Filter:
		return FilterChange
	case a.FocusPosition != b.FocusPosition && !math.IsNaN(a.FocusPosition) && !math.IsNaN(b.FocusPosition):
		return FocusMoved
	}
	return ""
}

func (n *Night) darkness(site *sky.Site, of []*subs.Sub) {
	if !site.Valid() {
		unknown := stats.Missing(sky.SiteUnknown)
		n.DarkHours, n.MoonlessHours, n.DarkShare = unknown, unknown, unknown
		return
	}
	n.Dark = sky.NightOf(site, n.Start).Astron
	n.DarkHours = stats.Known(n.Dark.Hours(), math.NaN(), 0)
	n.MoonlessHours = stats.Known(sky.MoonlessHours(site, n.Dark), math.NaN(), 0)
	if n.Dark.Hours() == 0 {
		n.DarkShare = stats.Missing(SunStaysUp)
		return
	}
	for _, s := range of {
		n.ShotInDark += n.Dark.Overlap(s.Start, end(s)).Seconds()
	}
	n.DarkShare = stats.Known(n.ShotInDark/(3600*n.Dark.Hours()), math.NaN(), 0)
	n.UnusedBefore = n.Dark.Overlap(n.Dark.Start, n.Start).Seconds()
	n.UnusedAfter = n.Dark.Overlap(n.End, n.Dark.End).Seconds()
}
