package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// track draws a line of light of so many electrons per px of length, blurred to
// a Gaussian of the given FWHM.
func track(s *simulated.Sim, x0, y0, x1, y1, perPx, fwhm float64) {
	length := math.Hypot(x1-x0, y1-y0)
	ux, uy := (x1-x0)/length, (y1-y0)/length
	sigma := fwhm / stars.SigmaToFWHM
	for j := range s.H {
		for i := range s.W {
			dx, dy := float64(i)-x0, float64(j)-y0
			along, across := dx*ux+dy*uy, dx*uy-dy*ux
			if !(math.Abs(across) <= 5*sigma) || along < -5*sigma || along > length+5*sigma {
				continue
			}
			ends := (math.Erf(along/sigma/math.Sqrt2) - math.Erf((along-length)/sigma/math.Sqrt2)) / 2
			s.E[j*s.W+i] += perPx * ends * math.Exp(-across*across/2/sigma/sigma) / (sigma * math.Sqrt(2*math.Pi))
		}
	}
}

func measureSim(t *testing.T, s *simulated.Sim) *stars.Field {
	t.Helper()
	f, err := Measure(s.Frame(), s.W, s.H, simulated.Quiet())
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// One satellite, a train of five, another whose tracks are three widths apart, a short meteor: each is counted, lies where
// it was drawn, and leaves the star count as it was. Across, half a pixel is
// allowed; a star beyond an end can lengthen the track by its own image, 15 px.
func TestTracksAreCounted(t *testing.T) {
	t.Parallel()
	q := simulated.PSF{Fwhm: 3, Beta: 3.5}
	for seed := range seeds(5) {
		for name, tracks := range map[string][][4]float64{
			"none":      nil,
			"satellite": {{0, 100, 699, 420}},
			"train":     {{0, 60, 699, 90}, {0, 100, 699, 130}, {0, 150, 699, 180}, {0, 200, 699, 230}, {0, 330, 699, 360}},
			"close":     {{0, 60, 699, 90}, {0, 70, 699, 100}, {0, 80, 699, 110}, {0, 90, 699, 120}, {0, 100, 699, 130}},
			"meteor":    {{200, 300, 320, 180}},
			"crossing":  {{0, 100, 699, 420}, {300, 0, 350, 479}},
		} {
			s := simulated.NewSim(seed, 700, 480, 400)
			for _, at := range s.Scatter(120, 12) {
				s.Star(at[0], at[1], s.Signal(10+90*s.Rng.Float64(), 400, q), q)
			}
			clean := measureSim(t, s).Count
			for _, k := range tracks {
				track(s, k[0], k[1], k[2], k[3], 250, 3)
			}
			f := measureSim(t, s)
			if len(f.Streaks) != len(tracks) {
				t.Errorf("seed %d, %s: %d tracks, want %d: %+v", seed, name, len(f.Streaks), len(tracks), f.Streaks)
				continue
			}
			for _, k := range f.Streaks {
				if !near(k, tracks) {
					t.Errorf("seed %d, %s: a track at %+v was never drawn", seed, name, k)
				}
				// The mean over the pixel's square and the median's own noise: 25 %.
				if !(math.Abs(k.Width/3.1-1) <= 0.25) {
					t.Errorf("seed %d, %s: track %.2f px wide, want 3.1", seed, name, k.Width)
				}
			}
			// A track hides some stars under it and may leave a stray detection.
			if d := f.Count - clean; d > 2 || d < -6*len(tracks)-1 {
				t.Errorf("seed %d, %s: %d stars, %d without tracks", seed, name, f.Count, clean)
			}
		}
	}
}

func near(k stars.Streak, drawn [][4]float64) bool {
	for _, d := range drawn {
		t := stars.Streak{X0: d[0], Y0: d[1], X1: d[2], Y1: d[3]}
		length, want := math.Hypot(k.X1-k.X0, k.Y1-k.Y0), math.Hypot(d[2]-d[0], d[3]-d[1])
		if t.Distance(k.X0, k.Y0) < 15 && t.Distance(k.X1, k.Y1) < 15 && t.Distance((k.X0+k.X1)/2, (k.Y0+k.Y1)/2) < 0.5 && math.Abs(length-want) < 20 {
			return true
		}
	}
	return false
}

// What is no track: a crowd of stars, stars that are all drawn out, a row of
// three bright stars, nebula filaments.
func TestNoTrackWhereThereIsNone(t *testing.T) {
	t.Parallel()
	for seed := range seeds(3) {
		for name, draw := range map[string]func(s *simulated.Sim){
			"crowd": func(s *simulated.Sim) {
				q := simulated.PSF{Fwhm: 3, Beta: 3}
				for range 2500 {
					s.Star(s.Rng.Float64()*700, s.Rng.Float64()*480, s.Signal(5+100*math.Pow(s.Rng.Float64(), 4), 400, q), q)
				}
			},
			"drawn out": func(s *simulated.Sim) {
				q := simulated.PSF{Fwhm: 3, Beta: 3, Trail: 10, TrailAngle: 25}
				for _, at := range s.Scatter(150, 25) {
					s.Star(at[0], at[1], s.Signal(20+80*s.Rng.Float64(), 400, q), q)
				}
			},
			"bright row": func(s *simulated.Sim) {
				q := simulated.PSF{Fwhm: 3, Beta: 2.5}
				for k := range 4 {
					s.Star(200+25*float64(k), 200+12*float64(k), 3e5, q)
				}
			},
			"filament": func(s *simulated.Sim) {
				for i := range s.E {
					x, y := float64(i%s.W), float64(i/s.W)
					across := (y - 200 - 60*math.Sin(x/90)) / 12
					s.E[i] += 150 * math.Exp(-across*across/2)
				}
			},
		} {
			s := simulated.NewSim(seed, 700, 480, 400)
			draw(s)
			if f := measureSim(t, s); len(f.Streaks) > 0 {
				t.Errorf("seed %d, %s: tracks %+v", seed, name, f.Streaks)
			}
		}
	}
}

// A track is as wide as the stars' images or a few times that (a satellite out of focus,
// one that tumbles); what is far wider is a filament of nebula and none.
func TestWidestTrack(t *testing.T) {
	t.Parallel()
	q := simulated.PSF{Fwhm: 3, Beta: 3.5}
	for _, c := range []struct {
		wide float64 // times the stars' images
		want int
	}{{2, 1}, {2.5, 1}, {3.7, 0}, {5, 0}} {
		for seed := range uint64(2) {
			s := simulated.NewSim(seed, 600, 400, 400)
			for _, at := range s.Scatter(60, 12) {
				s.Star(at[0], at[1], s.Signal(10+90*s.Rng.Float64(), 400, q), q)
			}
			track(s, 0, 80, 599, 320, 250*c.wide, 3*c.wide)
			if f := measureSim(t, s); len(f.Streaks) != c.want {
				t.Errorf("seed %d, %g times as wide as stars: %d tracks, want %d: %+v", seed, c.wide, len(f.Streaks), c.want, f.Streaks)
			}
		}
	}
}

// Faint stars of a rich field in a short row, one bright one among them, which chance
// put there, are no track.
func TestRowOfFaintStars(t *testing.T) {
	if testing.Short() {
		t.Skip("1800 stars; TestNoTrackWhereThereIsNone has a crowd")
	}
	t.Parallel()
	s := simulated.NewSim(106, 700, 480, 400)
	q := simulated.PSF{Fwhm: 3, Beta: 3}
	for range 1800 {
		s.Star(s.Rng.Float64()*700, s.Rng.Float64()*480, s.Signal(4*math.Pow(s.Rng.Float64(), -0.8), 400, q), q)
	}
	if f := measureSim(t, s); len(f.Streaks) > 0 {
		t.Errorf("tracks %+v", f.Streaks)
	}
}

// A track that goes on in flashes beyond where it shines is one, and the flashes are no
// stars of it. So are the lamps of a plane between two thin lines, three times as broad
// as the stars, which do not set the width.
func TestFlashingTracks(t *testing.T) {
	const sky = 200
	for name, c := range map[string]struct {
		fwhm, flash float64 // px
		every       int     // px between flashes
		shines      float64 // px
		light       float64
	}{"goes on in flashes": {3, 3, 17, 300, 560}, "lamps between lines": {1.4, 5, 45, 0, 20000}} {
		s := simulated.NewSim(9, 700, 480, sky)
		q := simulated.PSF{Fwhm: c.fwhm, Beta: 3.5}
		var truth [][2]float64
		for i, at := range s.Scatter(30, 20) {
			if math.Abs(at[1]-240) > 25 && (c.shines > 0 || i%2 == 0) {
				s.Star(at[0], at[1], s.Signal(20+6*float64(i), sky, q), q)
				truth = append(truth, at)
			}
		}
		if c.shines > 0 {
			line(s, 0, 240, c.shines, 240, 150, q)
		}
		if c.shines == 0 {
			line(s, 0, 237.5, 700, 237.5, 300, q)
			line(s, 0, 243, 700, 243, 300, q)
		}
		for x := int(c.shines); x < 690; x += c.every {
			s.Spot(float64(x)+10, 240.3, c.light, c.flash)
		}
		f := measureSim(t, s)
		hit, extra := found(f, truth, 2)
		if len(f.Streaks) > 2 || c.shines > 0 && len(f.Streaks) != 1 || hit < len(truth)-1 || extra > 3 || !(math.Abs(f.FWHM.V/c.fwhm-1) < 0.05) {
			t.Errorf("%s: %d tracks, %d of %d stars, %d false, FWHM %v", name, len(f.Streaks), hit, len(truth), extra, f.FWHM)
		}
	}
}

// The lamps of a plane that flash in a row between the lines of its wings, beside them or
// beside the one that is seen, outshine a dozen stars and are broader: they set neither the
// width nor the count.
func TestLampsAlongTracks(t *testing.T) {
	const sky, w, h = 400, 600, 420
	for _, c := range []struct {
		fwhm, flash float64 // px
		every       int     // px between flashes
		light       float64 // electrons of a flash
		wings       []float64
		shine       float64 // electrons of a wing's light per px
	}{
		{3.5, 5.5, 70, 60000, []float64{-14, 14}, 500},
		{2.2, 4, 45, 20000, []float64{-40, 40}, 500},
		{3, 5, 90, 40000, []float64{25}, 500},
		{4, 6.5, 60, 40000, []float64{-48, -20}, 500},
		{2.5, 5.5, 60, 120000, []float64{-14, 14}, 2000},
	} {
		s := simulated.NewSim(77, w, h, sky)
		q := simulated.PSF{Fwhm: c.fwhm, Beta: 3.5}
		const slope = 0.31
		row := func(x float64) float64 { return 90 + slope*x }
		var truth [][2]float64
		for i, at := range s.Scatter(20, 25) {
			if !(math.Abs(at[1]-row(at[0])) <= 60) {
				truth = append(truth, at)
				s.Star(at[0], at[1], s.Signal(12+4*float64(i), sky, q), q)
			}
		}
		for _, d := range c.wings {
			track(s, 0, row(0)+d, w-1, row(w-1)+d, c.shine, max(c.fwhm, 0.8*c.flash))
		}
		for x := 20; x < w; x += c.every {
			s.Spot(float64(x), row(float64(x)), c.light, c.flash)
		}
		f := measureSim(t, s)
		hit, extra := found(f, truth, 2)
		// 4 %: of a dozen stars, faint ones among them.
		if len(f.Streaks) != len(c.wings) || hit < len(truth)-1 || extra > 2 || !(math.Abs(f.FWHM.V/c.fwhm-1) < 0.04) {
			t.Errorf("flashes of %g px beside stars of %g: %d tracks, %d of %d stars, %d false, FWHM %v", c.flash, c.fwhm, len(f.Streaks), hit, len(truth), extra, f.FWHM)
		}
	}
}
