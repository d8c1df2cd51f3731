package report

import (
	"math"

	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
	"fitsqa/internal/worth"
)

type setJSON struct {
	Label    string       `json:"set"`
	Kind     string       `json:"kind"`
	Camera   names.Name   `json:"camera"`
	Filter   names.Name   `json:"filter"`
	SetTemp  real         `json:"set_temp_c"`
	Exposure real         `json:"exposure_s"`
	Gain     real         `json:"gain_setting"`
	Offset   real         `json:"offset_setting"`
	Binning  string       `json:"binning"`
	Files    []string     `json:"files"`
	Metrics  []metricJSON `json:"metrics"`
	Warnings []string     `json:"warnings"`

	WarningFacts []factJSON `json:"warning_facts"`
	seriesJSON
}

type metricJSON struct {
	Metric string `json:"metric"`
	figure
	Unit string `json:"unit"`
	Note string `json:"note"`

	NoteFacts []factJSON `json:"note_facts"`
}

type coverageJSON struct {
	Group string    `json:"group"`
	Bias  matchJSON `json:"bias"`
	Dark  matchJSON `json:"dark"`
	Flat  matchJSON `json:"flat"`
}

type matchJSON struct {
	Fits  bool   `json:"fits"`
	Group string `json:"group"`
	Words string `json:"words"`

	Frames     int              `json:"frames"`
	Master     bool             `json:"master"`
	Unknown    []calib.Property `json:"unknown"`
	Mismatches []mismatchJSON   `json:"mismatches"`
}

type mismatchJSON struct {
	Property string `json:"property"`
	Frames   string `json:"frames"`
	Subs     string `json:"subs"`
	By       real   `json:"by"`
	Limit    real   `json:"limit"`
}

type worthJSON struct {
	Group       string          `json:"group"`
	Verdict     string          `json:"verdict"`
	Reason      string          `json:"reason"`
	ReasonFacts []factJSON      `json:"reason_facts"`
	Sentence    string          `json:"sentence"`
	BenefitPct  figure          `json:"benefit_pct"`
	DecidedBy   string          `json:"decided_by"`
	Doubt       string          `json:"doubt"`
	DoubtE      real            `json:"doubt_at_most_e"`
	MoreBias    int             `json:"more_bias_frames"`
	MoreBiasPct real            `json:"more_bias_benefit_pct"`
	Weighed     int             `json:"darks_weighed"`
	AtHand      int             `json:"darks_at_hand"`
	AtHandPct   figure          `json:"at_hand_benefit_pct"`
	Gains       []gainJSON      `json:"gains"`
	GlowPct     figure          `json:"glow_of_sky_pct"`
	Caveats     []worth.Caveat  `json:"caveats"`
	CostHours   real            `json:"cost_h"`
	Library     *libraryJSON    `json:"library"`
	Cases       []worthCaseJSON `json:"cases"`
}

type libraryJSON struct {
	Date        string     `json:"date"`
	Verdict     string     `json:"verdict"`
	Reason      string     `json:"reason"`
	ReasonFacts []factJSON `json:"reason_facts"`
	Sentence    string     `json:"sentence"`
	Known       int        `json:"hot_pixels"`
	Gone        int        `json:"hot_pixels_gone"`
	New         int        `json:"hot_pixels_new"`
	Level       figure     `json:"level"`
	Changed     figure     `json:"pattern_changed_e"`
}

type gainJSON struct {
	Exposure   real   `json:"exposure_s"`
	BenefitPct figure `json:"benefit_pct"`
}

type worthCaseJSON struct {
	Correction    worth.Correction `json:"correction"`
	Frames        int              `json:"frames"`
	Darks         int              `json:"darks"`
	Dithered      bool             `json:"dithered"`
	Sky           real             `json:"sky_e"`
	DarkShot      real             `json:"dark_shot_e"`
	Read          real             `json:"read_e"`
	FixedPattern  real             `json:"fixed_pattern_e"`
	MasterDark    real             `json:"master_dark_e"`
	Total         real             `json:"total_e"`
	HotPixelsLeft real             `json:"hot_pixels_left"`
	HotMean       real             `json:"hot_pixels_mean"`
	HotNoise      real             `json:"hot_pixels_known_noise"`
	Glow          real             `json:"glow_e"`
}

type masterJSON struct {
	Group       string           `json:"group"`
	Kind        string           `json:"kind"`
	Verdict     string           `json:"verdict"`
	Reason      string           `json:"reason"`
	ReasonFacts []factJSON       `json:"reason_facts"`
	Sentence    string           `json:"sentence"`
	Have        int              `json:"have"`
	HavePct     figure           `json:"have_adds_pct"`
	Suffices    int              `json:"suffices"`
	Most        int              `json:"most_weighed"`
	MostPct     real             `json:"most_adds_pct"`
	NonePct     real             `json:"none_adds_pct"`
	Corner      figure           `json:"corner_falloff_pct"`
	Lifted      figure           `json:"corners_lifted_pct"`
	Cases       []masterCaseJSON `json:"cases"`
}

type masterCaseJSON struct {
	Frames      int  `json:"frames"`
	Dithered    bool `json:"dithered"`
	Added       real `json:"added_e"`
	Stack       real `json:"stack_e"`
	IncreasePct real `json:"increase_pct"`
}

func newSetJSON(s *sensor.Set) setJSON {
	nan := real(math.NaN())
	j := setJSON{
		Label: s.Label, Kind: s.Kind, Camera: s.Camera, SetTemp: nan, Exposure: nan, Gain: nan, Offset: nan,
		Files: []string{}, Metrics: []metricJSON{}, Warnings: list(say.SetWarnings(s)), WarningFacts: newFactsJSON(s.Warnings),
	}
	if g := s.Group; g != nil {
		j.Filter, j.SetTemp, j.Exposure = g.Filter, real(g.SetTemp), real(g.Exposure)
		j.Gain, j.Offset, j.Binning = real(g.GainSetting), real(g.OffsetSetting), binningLabel(g.BinX, g.BinY)
		for _, f := range g.Frames {
			j.Files = append(j.Files, f.Name)
		}
	}
	for _, m := range s.Metrics() {
		j.Metrics = append(j.Metrics, metricJSON{m.Name, newFigure(m.Value), m.Unit, say.Note(m.Note), newFactsJSON(m.Note)})
	}
	j.seriesJSON = newSeriesJSON(s)
	return j
}

func newMatchJSON(m calib.Match) matchJSON {
	j := matchJSON{Fits: m.Fits, Words: say.Fit(&m.Fit), Frames: m.Frames, Master: m.Master,
		Unknown: append([]calib.Property{}, m.Unknown...), Mismatches: []mismatchJSON{}}
	for _, x := range m.Mismatches {
		j.Mismatches = append(j.Mismatches, mismatchJSON{string(x.Property), x.Frames, x.Subs, real(x.By), real(x.Limit)})
	}
	if m.Group != nil {
		j.Group = m.Group.Label()
	}
	return j
}

func newWorthJSON(w *worth.Answer) worthJSON {
	j := worthJSON{
		Group: w.Label, Verdict: say.DarksVerdict(w), Reason: say.DarksOpen(w), ReasonFacts: lackingJSON(w.Lacks), Sentence: say.Darks(w), Doubt: string(w.Doubt), DoubtE: real(w.DoubtE), MoreBias: w.MoreBias, MoreBiasPct: real(w.MoreBiasPct),
		BenefitPct: newFigure(w.BenefitPct), DecidedBy: string(w.Reason), Weighed: w.Weighed,
		AtHand: w.AtHand, AtHandPct: newFigure(w.AtHandPct), Gains: []gainJSON{}, GlowPct: newFigure(w.GlowPct),
		Caveats: append([]worth.Caveat{}, w.Caveats...), CostHours: real(w.CostHours), Cases: []worthCaseJSON{},
	}
	if w.Lacks.Code != "" {
		j.BenefitPct = newFigure(stats.Because(w.Lacks))
	}
	if l := w.Library; l != nil {
		j.Library = &libraryJSON{l.Date, string(l.Verdict), say.Fact(l.Lacks), lackingJSON(l.Lacks), say.Library(l), l.Known, l.Gone, l.New, newFigure(l.Level), newFigure(l.Changed)}
	}
	for _, g := range w.Gains {
		j.Gains = append(j.Gains, gainJSON{real(g.Exposure), newFigure(g.BenefitPct)})
	}
	for _, c := range w.Cases {
		j.Cases = append(j.Cases, worthCaseJSON{
			c.Correction, c.Frames, c.Darks(), c.Dithered, real(c.Sky), real(c.DarkShot), real(c.Read), real(c.FixedPattern),
			real(c.Master), real(c.Total), real(c.HotScatter), real(c.HotMean), real(c.HotNoise), real(c.Glow),
		})
	}
	return j
}

// lackingJSON is what is lacking for a verdict; empty when nothing is.
func lackingJSON(f fact.Fact) []factJSON {
	if f.Code == "" {
		return []factJSON{}
	}
	return newFactsJSON([]fact.Fact{f})
}

func newMasterJSON(w *worth.Master) masterJSON {
	j := masterJSON{Group: w.Label, Kind: w.Kind, Verdict: string(w.Verdict), Reason: say.Fact(w.Lacks), ReasonFacts: lackingJSON(w.Lacks), Sentence: say.Master(w), Have: w.Have, HavePct: newFigure(w.HavePct), Suffices: w.Suffices,
		Most: w.Most, MostPct: real(w.MostPct), NonePct: real(w.WithoutPct), Corner: newFigure(w.Corner), Lifted: newFigure(w.Lifted), Cases: []masterCaseJSON{}}
	for _, c := range w.Cases {
		j.Cases = append(j.Cases, masterCaseJSON{c.N, c.Dithered, real(c.Added), real(c.Stack), real(c.IncreasePct)})
	}
	return j
}
