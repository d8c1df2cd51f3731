package report

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/plan"
	"fitsqa/internal/say"
)

type exposureJSON struct {
	Group          string     `json:"group"`
	Target         names.Name `json:"target"`
	Filter         names.Name `json:"filter"`
	Current        real       `json:"current_s"`
	From           real       `json:"from_s"`
	To             real       `json:"to_s"`
	Sky            figure     `json:"sky_e_per_s"`
	SkyArcsec      figure     `json:"sky_e_per_s_arcsec2"`
	SkyMag         figure     `json:"sky_mag_arcsec2"`
	SkyWords       string     `json:"sky_words"`
	Dark           figure     `json:"dark_e_per_s"`
	ReadNoise      figure     `json:"read_noise_e"`
	ReadNoiseShare figure     `json:"read_noise_share"`
	Shortest       figure     `json:"shortest_s"`
	Saturating     figure     `json:"saturating_s"`
	SaturatedShare figure     `json:"saturated_share"`
	TrailedShare   figure     `json:"trailed_share"`
	Best           figure     `json:"best_s"`
	Gap            figure     `json:"gap_s"`
	Gain           real       `json:"gain"`
	Advice         string     `json:"advice"`
	Sentence       string     `json:"sentence"`
}

type nightJSON struct {
	Date         string      `json:"date"`
	Camera       names.Name  `json:"camera"`
	Start        *string     `json:"start_utc"`
	End          *string     `json:"end_utc"`
	Dark         figure      `json:"dark_h"`
	Moonless     figure      `json:"moonless_h"`
	DarkShare    figure      `json:"dark_share"`
	Shot         real        `json:"shot_s"`
	ShotInDark   real        `json:"shot_in_dark_s"`
	Between      real        `json:"between_s"`
	UnusedBefore real        `json:"unused_before_s"`
	UnusedAfter  real        `json:"unused_after_s"`
	Sentence     string      `json:"sentence"`
	Pauses       []pauseJSON `json:"pauses"`
	Yields       []yieldJSON `json:"yields"`
}

type pauseJSON struct {
	Start  *string `json:"start_utc"`
	End    *string `json:"end_utc"`
	Reason string  `json:"reason"`
}

type yieldJSON struct {
	Target names.Name `json:"target"`
	Filter names.Name `json:"filter"`
	tally
	Shot   real `json:"shot_s"`
	Usable real `json:"usable_s"`
	Clear  real `json:"clear_s"`
}

type goalJSON struct {
	Target      names.Name `json:"target"`
	Filter      names.Name `json:"filter"`
	Done        bool       `json:"done"`
	Tonight     figure     `json:"tonight_h"`
	Earlier     real       `json:"earlier_h"`
	Needed      figure     `json:"needed_h"`
	StillNeeded figure     `json:"still_needed_h"`
	Nights      figure     `json:"nights"`
	SNR         figure     `json:"snr"`
	Sentence    string     `json:"sentence"`
}

type shoppingJSON struct {
	Kind     string     `json:"kind"`
	Filter   names.Name `json:"filter"`
	Frames   int        `json:"frames"`
	Have     int        `json:"have"`
	Exposure real       `json:"exposure_s"`
	Temp     real       `json:"temp_c"`
	Gain     real       `json:"gain_setting"`
	Offset   real       `json:"offset_setting"`
	Binning  int        `json:"binning"`
	For      []string   `json:"for"`
	Reason   string     `json:"reason"`
	Lack     string     `json:"lack"`
	Gains    string     `json:"dark_gain"`
	GlowE    real       `json:"dark_gain_glow_e"`
	GainPct  real       `json:"dark_gain_noise_pct"`
	Sentence string     `json:"sentence"`
}

func (d *document) addPlan(p *plan.Plan) {
	d.Plan = list(say.Advice(p))
	set := func(text string) string { return say.Typeset(frames.Printable(text)) }
	for i := range p.Exposures {
		e := &p.Exposures[i]
		d.Exposures = append(d.Exposures, exposureJSON{
			e.Group, e.Target, e.Filter, real(e.Current), real(e.From), real(e.To),
			newFigure(e.Sky), newFigure(e.SkyArcsec), newFigure(e.SkyMag), say.Bortle(e.Bortle), newFigure(e.Dark), newFigure(e.ReadNoise),
			newFigure(e.ShareNow), newFigure(e.Shortest), newFigure(e.Saturating), newFigure(e.SaturatedNow),
			newFigure(e.TrailedShare), newFigure(e.Best), newFigure(e.Gap), real(e.Gain), string(e.Advice()), set(say.Exposure(e)),
		})
	}
	for i := range p.Nights {
		n := &p.Nights[i]
		d.Nights = append(d.Nights, newNightJSON(n, set(say.Night(n, len(p.Nights) > 1))))
	}
	for i := range p.Goals {
		g := &p.Goals[i]
		d.Goals = append(d.Goals, goalJSON{
			g.Target, g.Filter, g.Done, newFigure(g.Tonight), real(g.Earlier), newFigure(g.NeededTotal),
			newFigure(g.StillNeeded), newFigure(g.Nights), newFigure(g.SNR), set(say.Goal(g)),
		})
	}
	for i := range p.Shopping {
		s := &p.Shopping[i]
		d.Shopping = append(d.Shopping, shoppingJSON{
			s.Kind, s.Filter, s.Frames, s.Have, real(s.Exposure), real(s.TempC), real(s.GainSetting), real(s.OffsetSetting),
			s.Binning, list(s.For), say.ShoppingReason(s), string(s.Lack), string(s.Gain), only(s.Gain == plan.GlowOff, s.GlowE), only(s.Gain == plan.LessNoise, s.GainPct),
			set(say.Shopping(s)),
		})
	}
}

func only(meant bool, x float64) real {
	if !meant {
		return real(math.NaN())
	}
	return real(x)
}

func newNightJSON(n *plan.Night, sentence string) nightJSON {
	j := nightJSON{
		n.Date, n.Camera, stampOrNull(n.Start), stampOrNull(n.End), newFigure(n.DarkHours), newFigure(n.MoonlessHours),
		newFigure(n.DarkShare), real(n.Shot), real(n.ShotInDark), real(n.Between), real(n.UnusedBefore), real(n.UnusedAfter),
		sentence, []pauseJSON{}, []yieldJSON{},
	}
	for _, p := range n.Pauses {
		j.Pauses = append(j.Pauses, pauseJSON{stampOrNull(p.Start), stampOrNull(p.End), say.Fact(fact.Of(p.Reason))})
	}
	for _, y := range n.Yields {
		j.Yields = append(j.Yields, yieldJSON{
			y.Target, y.Filter, tally{y.Subs, y.Kept, y.Doubtful, y.NotJudged, y.Culled}, real(y.Shot), real(y.Usable), real(y.Clear),
		})
	}
	return j
}
