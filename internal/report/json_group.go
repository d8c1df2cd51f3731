package report

import (
	"fitsqa/internal/names"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
)

type groupJSON struct {
	Label     string     `json:"label"`
	Target    names.Name `json:"target"`
	Filter    names.Name `json:"filter"`
	ExposureS real       `json:"exposure_s"`
	tally
	ShotS            real            `json:"shot_s"`
	UsableS          real            `json:"usable_s"`
	EquivalentClearS real            `json:"equivalent_clear_s"`
	SeasonClearS     real            `json:"season_clear_s"`
	Season           seasonJSON      `json:"season"`
	LostS            map[string]real `json:"lost_s"`
	Economics        economicsJSON   `json:"economics"`
	Poor             []string        `json:"poor"`
	Notes            []string        `json:"notes"`
	NoteFacts        []factJSON      `json:"note_facts"`
}

type economicsJSON struct {
	Stacked         int        `json:"stacked"`
	Plain           []real     `json:"plain"`
	Scaled          []real     `json:"scaled"`
	Weighted        []real     `json:"weighted"`
	FWHM            []real     `json:"fwhm_px"`
	Ellipticity     []real     `json:"ellipticity"`
	Marks           []markJSON `json:"marks"`
	BestDrop        int        `json:"best_drop"`
	UserDrop        int        `json:"user_drop"`
	UserPlain       real       `json:"user_plain"`
	UserScaled      real       `json:"user_scaled"`
	UserWeighted    real       `json:"user_weighted"`
	UserFWHM        real       `json:"user_fwhm_px"`
	UserEllipticity real       `json:"user_ellipticity"`
	UserClearS      real       `json:"user_clear_s"`
	Words           string     `json:"words"`
}

// markJSON is the cut that is best for one aim.
type markJSON struct {
	Aim  string `json:"aim"`
	Drop int    `json:"drop"`
}

type eventJSON struct {
	Cause    string  `json:"cause"`
	StartUTC *string `json:"start_utc"`
	EndUTC   *string `json:"end_utc"`
	Subs     int     `json:"subs"`
	Words    string  `json:"words"`
}

func causeCodes(all []subs.Cause) []string {
	out := []string{}
	for _, c := range all {
		out = append(out, string(c))
	}
	return out
}

func marks(all []subs.Mark) []markJSON {
	out := []markJSON{}
	for _, m := range all {
		out = append(out, markJSON{string(m.Aim), m.Drop})
	}
	return out
}

func newGroupJSON(g groupSummary) groupJSON {
	j := groupJSON{
		Label: g.Label, Target: g.Target, Filter: g.Filter, ExposureS: real(g.Exposure),
		tally: g.tally,
		ShotS: real(g.ShotSeconds), UsableS: real(g.UsableSeconds), EquivalentClearS: real(g.EquivalentClearSeconds),
		SeasonClearS: real(g.Season.Clear.V), Season: newSeasonJSON(g.Season),
		LostS: map[string]real{}, Notes: list(say.GroupNotes(g.Group)), NoteFacts: newFactsJSON(g.Notes),
		Poor: causeCodes(g.Poor),
		Economics: economicsJSON{
			Stacked: g.Economics.Stacked, Plain: reals(g.Economics.Plain), Scaled: reals(g.Economics.Scaled), Weighted: reals(g.Economics.Weighted),
			FWHM: reals(g.Economics.FWHM), Ellipticity: reals(g.Economics.Ellipticity), Marks: marks(g.Economics.Marks),
			BestDrop: g.Economics.BestDrop, UserDrop: g.Economics.UserDrop,
			UserPlain: real(g.Economics.UserPlain), UserScaled: real(g.Economics.UserScaled), UserWeighted: real(g.Economics.UserWeighted),
			UserFWHM: real(g.Economics.UserFWHM), UserEllipticity: real(g.Economics.UserEllipticity), UserClearS: real(g.Economics.UserClearSeconds),
			Words: say.Economics(&g.Economics),
		},
	}
	for c, s := range g.LostSeconds {
		j.LostS[string(c)] = real(s)
	}
	return j
}
