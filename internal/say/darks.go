package say

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/worth"
)

// DarksVerdict is the verdict on darks in a word; "" when there is none.
func DarksVerdict(w *worth.Answer) string {
	if w.Verdict() == worth.WorthIt {
		return fmt.Sprintf("%s: %s", w.Verdict(), fact.Plural(w.Darks, "frame"))
	}
	return string(w.Verdict())
}

// Darks is the verdict on darks with what decided it and at most one thing more; ""
// when there is none.
func Darks(w *worth.Answer) string {
	if w.Verdict() == "" {
		return ""
	}
	text, more := deciding(w)
	if more != "" {
		text += "; " + more
	}
	return text + caveatWords(w)
}

// DarksOpen is why there is no verdict on darks; "" when there is one.
func DarksOpen(w *worth.Answer) string {
	switch w.Doubt {
	case worth.PatternInDoubt:
		return fmt.Sprintf("no darks, and the subs only tell that the dark pattern is under %s e- a sub: shoot five darks once, or dither", twoDigits(w.DoubtE))
	case worth.GlowInDoubt:
		return fmt.Sprintf("for the noise alone %s would %s, but the sensor may glow%s, by %s e- at most: one dark would show",
			fact.Plural(w.Weighed, "dark"), change(w.BenefitPct.V), at(w.GlowPlace), twoDigits(w.DoubtE))
	case worth.BenefitInDoubt:
		return fmt.Sprintf("%s would change the noise by %s ± %.0f %%, which may be nothing: five darks at the subs' temperature would tell",
			fact.Plural(w.Weighed, "dark"), signed(-w.BenefitPct.V), w.BenefitPct.Err)
	}
	return Fact(w.Lacks)
}

// deciding is the verdict with what decided it, and one thing more.
func deciding(w *worth.Answer) (text, more string) {
	switch w.Reason {
	case worth.LessNoise:
		return noiseWords(w)
	case worth.Glow:
		return glowWords(w)
	case worth.HotPixels:
		text = fmt.Sprintf("%s: it takes off %s that rejection by standard deviation would leave in the stack", DarksVerdict(w), hotPixels(w.Without.HotScatter))
		if w.AtHand > 0 {
			return text, yours(w)
		}
		return text, wouldDo(w)
	}
	if w.Reason == worth.MoreBias {
		return fmt.Sprintf("%s: %s would %s, %s by %s", DarksVerdict(w), fact.Plural(w.MoreBias, "bias frame"), change(w.MoreBiasPct), fact.Plural(w.Weighed, "dark"), noisePct(w.BenefitPct.V)), ""
	}
	if w.AtHand > 0 {
		return DarksVerdict(w) + ": " + yours(w), ""
	}
	text = DarksVerdict(w) + ": " + wouldDo(w)
	if w.Without.Glow > 0 && w.GlowPct.OK() {
		more = fmt.Sprintf("the glow%s is %.2g %% of the sky", at(w.GlowPlace), w.GlowPct.V)
	}
	return text, more
}

func wouldDo(w *worth.Answer) string {
	return fact.Plural(w.Weighed, "dark") + " would " + change(w.BenefitPct.V)
}

// noiseWords: darks lower the noise.
func noiseWords(w *worth.Answer) (text, more string) {
	switch {
	case w.AsMany() >= w.Weighed:
		return fmt.Sprintf("%s: use your %d%s, they %s%s", DarksVerdict(w), w.AtHand, scaled(w), changes(w.AtHandPct.V, w.AtHandPct.Err), longer(w)), ""
	case w.AtHand > 0:
		more = fmt.Sprintf("your %d%s %s", w.AtHand, scaled(w), changeBy(w.AtHand, w.AtHandPct.V))
	case w.HotMatter:
		more = "without them " + hotPixels(w.Without.HotScatter) + " would stay after rejection by standard deviation"
	}
	return fmt.Sprintf("%s: they %s%s", DarksVerdict(w), changes(w.BenefitPct.V, w.BenefitPct.Err), longer(w)), more
}

// glowWords: darks take off the glow, and little else.
func glowWords(w *worth.Answer) (text, more string) {
	text = fmt.Sprintf("worth it for the glow%s only (%s e-, %s): ", at(w.GlowPlace), twoDigits(w.Without.Glow), glowShare(w))
	switch {
	case w.AsMany() >= w.Weighed && !w.Harm():
		return text + "use your " + fact.Plural(w.AtHand, "dark") + scaled(w), "elsewhere they " + change(w.AtHandPct.V)
	case w.AsMany() >= w.Weighed:
		return text + "blur the master of your " + fact.Plural(w.AtHand, "dark"), "as it is it would " + change(w.AtHandPct.V) + " elsewhere"
	case w.AtHand >= worth.GlowMaster:
		text += fmt.Sprintf("%s on any cloudy night, or blur the master of your %d", fact.Plural(w.Darks, "dark"), w.AtHand)
	default:
		text += fact.Plural(w.Darks, "dark") + " on any cloudy night, or blur a master of five"
	}
	if w.BenefitPct.V < -worth.WorthTelling {
		return text, "blur theirs too, as it is it would " + change(w.BenefitPct.V) + " elsewhere"
	}
	return text, "elsewhere darks " + change(w.BenefitPct.V)
}

func yours(w *worth.Answer) string {
	yours := "your " + fact.Plural(w.AtHand, "dark") + scaled(w)
	switch v := w.AtHandPct.V; {
	case v > worth.WorthTelling:
		return fmt.Sprintf("use %s, %s %s", yours, verb(w.AtHand, "it", "they"), changeBy(w.AtHand, v))
	case v < -worth.WorthTelling:
		return fmt.Sprintf("leave %s out, %s %s", yours, verb(w.AtHand, "it", "they"), changeBy(w.AtHand, v))
	default:
		return yours + " " + changeBy(w.AtHand, v)
	}
}

// scaled tells how darks of another exposure are to be taken off.
func scaled(w *worth.Answer) string {
	if w.ScaledAs > 0 {
		return " scaled above the bias"
	}
	return ""
}

// change is what darks do to the noise: "lower the noise by 2 %".
func change(pct float64) string {
	switch {
	case math.Abs(pct) < worth.WorthTelling:
		return fmt.Sprintf("change nothing (%s)", signed(-pct))
	case pct < 0:
		return "raise the noise by " + noisePct(-pct)
	}
	return "lower the noise by " + noisePct(pct)
}

// changeBy is what so many frames do: "lower the noise by 2 %", of one "would lower" it.
func changeBy(n int, pct float64) string { return verb(n, "would ", "") + change(pct) }

func changes(pct, err float64) string {
	if !(err >= 0.5) {
		return change(pct)
	}
	return fmt.Sprintf("lower the noise by %.0f ± %.0f %%", pct, err)
}

func longer(w *worth.Answer) string {
	if len(w.Gains) < 2 || w.Gains[1].BenefitPct.V < worth.WorthTelling {
		return ""
	}
	g := w.Gains[1]
	return fmt.Sprintf(", with subs of %s by %s", seconds(g.Exposure), noisePct(g.BenefitPct.V))
}

func glowShare(w *worth.Answer) string {
	if !w.GlowPct.OK() {
		return "there is hardly any sky there"
	}
	return twoDigits(w.GlowPct.V) + " % of the sky there"
}

// caveatWords are what the verdict rests on, in brackets.
func caveatWords(w *worth.Answer) string {
	var words []string
	for _, c := range w.Caveats {
		if c == worth.GlowUnknown {
			continue // it would change nothing, or the verdict was taken back
		}
		words = append(words, map[worth.Caveat]string{
			worth.SkyWithDark:   "sky with its dark current",
			worth.DarkFromNoise: "dark current by the darks' noise, as the offset may have moved",
			worth.DarkNotMoved:  "dark current as measured at the darks' temperature",
			worth.DarkCarried:   "dark current carried from the darks' temperature by the usual doubling every 6 °C",
			worth.FromSubs:      "by the subs alone",
			worth.FromLedger:    "by darks of an earlier night",
			worth.PatternLimit:  "no dark pattern is seen in them",
			worth.GlowScaled:    "the glow by darks of another exposure, as if it grew in step",
			worth.DitherUnknown: "the subs taken as not dithered",
		}[c])
	}
	if words == nil {
		return ""
	}
	return " (" + strings.Join(words, ", ") + ")"
}

func at(place fact.Code) string {
	if place == "" {
		return ""
	}
	words := Fact(fact.Of(place))
	switch place {
	case sensor.Inside:
		return " " + words
	case sensor.Left, sensor.Right, sensor.Lower, sensor.Upper:
		return " at the " + words
	}
	return " in the " + words
}
