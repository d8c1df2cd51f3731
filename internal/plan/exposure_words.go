package plan

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/stats"
)

// exposureWords are the advice on all exposures; where there is none, groups of one
// reason stand together.
func exposureWords(all []Exposure, opt Options) []string {
	var w, reasons []string
	of := map[string][]string{}
	for _, e := range all {
		if e.Shortest.OK() {
			w = append(w, e.words(opt)...)
			continue
		}
		if of[e.Shortest.Why] == nil {
			reasons = append(reasons, e.Shortest.Why)
		}
		of[e.Shortest.Why] = append(of[e.Shortest.Why], or(e.Group, "unnamed subs"))
	}
	for _, why := range reasons {
		w = append(w, "No advice on the exposure of "+strings.Join(of[why], ", ")+": "+why+".")
	}
	return w
}

// words are the advice on one group's exposure, with the figures that it rests on.
func (e Exposure) words(opt Options) []string {
	name := or(e.Target, "Unnamed target") + ", " + or(e.Filter, "no filter")
	span := seconds(e.From)
	if e.To > e.From {
		span = fmt.Sprintf("%g to %s", stats.Significant(e.From, 4), seconds(e.To))
	}
	var text string
	switch {
	case !(e.Current > 0):
		text = "expose " + span + ": " + e.shortWords(opt)
	case e.Current < e.From*0.99:
		text = "expose longer, " + span + ", for " + percent(e.Gain) + " more signal to noise: at " + seconds(e.Current) + " " + e.noiseWords() + ", and " + percent(opt.ReadNoiseShare) + " at " + roughSeconds(e.Shortest.V)
	case e.Current > e.To*1.01 && e.Best.OK():
		text = fmt.Sprintf("expose shorter, %s: at %s %s of the subs trailed, and shorter ones lose less", span, seconds(e.Current), percent(e.TrailedShare.V))
	case e.Current > e.To*1.01:
		text = fmt.Sprintf("%s would do, %s gain nothing: %s, and a spoiled sub costs less", span, seconds(e.Current), e.shortWords(opt))
	default:
		text = "stay at " + seconds(e.Current) + e.otherwise() + ": " + e.noiseWords()
		if e.Best.OK() && e.Shortest.V > e.Current {
			text += fmt.Sprintf("; %s of the subs trailed, which makes some %s the best", percent(e.TrailedShare.V), roughSeconds(e.Best.V))
		}
	}
	return append([]string{name + ": " + text + e.gapWords() + e.starWords(opt) + "."}, e.bandwidthWords(name)...)
}

// otherwise is what serves besides the current exposure.
func (e Exposure) otherwise() string {
	shorter, longer := e.From < e.Current*0.99, e.To > e.Current*1.01
	switch {
	case shorter && longer:
		return fmt.Sprintf(" (%g to %s do as well)", stats.Significant(e.From, 4), seconds(e.To))
	case longer:
		return fmt.Sprintf(" (up to %s does as well)", seconds(e.To))
	case shorter:
		return fmt.Sprintf(" (%s and more do as well)", seconds(e.From))
	}
	return ""
}

// noiseWords are the figures of the current exposure.
func (e Exposure) noiseWords() string {
	sky := fmt.Sprintf("%.2g e-/s a pixel", e.Sky.V)
	if e.SkyMag.OK() {
		sky += fmt.Sprintf(", %.1f mag per square arcsecond", e.SkyMag.V)
	}
	if e.SkyWord != "" {
		sky += ", " + e.SkyWord
	}
	return fmt.Sprintf("the read noise of %.2g e- adds %s to the noise of this sky (%s)", e.ReadNoise.V, percent(e.ShareNow.V), sky)
}

func (e Exposure) shortWords(opt Options) string {
	return fmt.Sprintf("read noise adds %s at %s", percent(opt.ReadNoiseShare), roughSeconds(e.Shortest.V))
}

// gapWords speak of gaps when they take more than a tenth of the time.
func (e Exposure) gapWords() string {
	if share := e.Gap.V / (e.Gap.V + e.Current); e.Gap.OK() && share > 0.1 {
		return fmt.Sprintf("; the %s between subs take %s of the time", roughSeconds(e.Gap.V), percent(share))
	}
	return ""
}

// starWords say what longer subs do to the stars, where that is near.
func (e Exposure) starWords(opt Options) string {
	switch {
	case !e.Saturating.OK():
		return ""
	case e.SaturatedNow.OK() && e.SaturatedNow.V > opt.SaturatedShare && e.Saturating.V < e.Current:
		return fmt.Sprintf("; %s of the stars saturate, so add some subs of %s if their colour matters", percent(e.SaturatedNow.V), seconds(roundDown(e.Saturating.V)))
	case e.Saturating.V < 2*math.Max(e.To, e.Current):
		return fmt.Sprintf("; beyond %s more than %s of the stars saturate", roughSeconds(e.Saturating.V), percent(opt.SaturatedShare))
	}
	return ""
}

func (e Exposure) bandwidthWords(name string) []string {
	if len(e.Others) == 0 {
		return nil
	}
	var parts []string
	for _, o := range e.Others {
		parts = append(parts, fmt.Sprintf("%g nm: %s", o.BandwidthNM, roughSeconds(o.Shortest)))
	}
	return []string{fmt.Sprintf("%s: with another filter than this one of %g nm the shortest sub would be (%s), as long as the sky's light is continuous.",
		name, e.Bandwidth, strings.Join(parts, ", "))}
}
