package worth

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// All sentences of the package. Each says what decided and at most one thing
// more.

// words is the verdict on darks with its figures.
func (w *Answer) words() string {
	text, more := w.deciding()
	if more != "" {
		text += "; " + more
	}
	return text + w.caveatWords()
}

// deciding is the verdict with what decided it, and one thing more.
func (w *Answer) deciding() (text, more string) {
	switch w.Reason {
	case LessNoise:
		return w.noiseWords()
	case Glow:
		return w.glowWords()
	case HotPixels:
		text = fmt.Sprintf("%s: %s would stay in the stack after rejection by standard deviation", w.Verdict, counted(w.Without.HotScatter, "hot pixel"))
		if w.AtHand > 0 {
			return text, w.yours()
		}
		return text, fmt.Sprintf("%d darks would %s", w.Weighed, change(w.BenefitPct.V))
	}
	if w.Reason == MoreBias {
		return fmt.Sprintf("%s: %d bias frames %s, %d darks by %s", w.Verdict, w.MoreBias, change(w.MoreBiasPct), w.Weighed, percent(w.BenefitPct.V)), ""
	}
	if w.AtHand > 0 {
		return w.Verdict + ": " + w.yours(), ""
	}
	text = fmt.Sprintf("%s: %d darks would %s", w.Verdict, w.Weighed, change(w.BenefitPct.V))
	if w.Without.Glow > 0 && w.GlowPct.OK() {
		more = fmt.Sprintf("the glow%s is %.2g %% of the sky", at(w.GlowPlace), w.GlowPct.V)
	}
	return text, more
}

// patternOpen: the pattern is known by its limit alone, e-.
func patternOpen(limit float64) string {
	return fmt.Sprintf("no darks, and the subs only tell that the dark pattern is under %s e- a sub: shoot five darks once, or dither", plain(limit))
}

// glowOpen: so is the glow.
func (w *Answer) glowOpen(place string, limit float64) string {
	return fmt.Sprintf("for the noise alone %d darks would %s, but the sensor may glow%s, by %s e- at most: one dark would show",
		w.Weighed, change(w.BenefitPct.V), at(place), plain(limit))
}

// noiseWords: darks lower the noise.
func (w *Answer) noiseWords() (text, more string) {
	switch {
	case w.AtHand >= w.Weighed:
		return fmt.Sprintf("%s: use your %d, they %s%s", w.Verdict, w.AtHand, changes(w.AtHandPct.V, w.AtHandPct.Err), w.longer()), ""
	case w.AtHand > 0:
		more = fmt.Sprintf("your %d %s", w.AtHand, change(w.AtHandPct.V))
	case w.HotMatter:
		more = "without them " + counted(w.Without.HotScatter, "hot pixel") + " would stay after rejection by standard deviation"
	}
	return fmt.Sprintf("%s: they %s%s", w.Verdict, changes(w.BenefitPct.V, w.BenefitPct.Err), w.longer()), more
}

// glowWords: darks take off the glow, and little else.
func (w *Answer) glowWords() (text, more string) {
	text = fmt.Sprintf("worth it for the glow%s only (%s e-, %s): ", at(w.GlowPlace), plain(w.Without.Glow), w.glowShare())
	switch {
	case w.AtHand >= w.Weighed && !w.harm():
		return text + fmt.Sprintf("use your %d darks", w.AtHand), "elsewhere they " + change(w.AtHandPct.V)
	case w.AtHand >= w.Weighed:
		return text + fmt.Sprintf("blur the master of your %d darks", w.AtHand), "as it is it would " + change(w.AtHandPct.V) + " elsewhere"
	case w.AtHand >= glowMaster:
		text += fmt.Sprintf("%d darks on any cloudy night, or blur the master of your %d", w.Darks, w.AtHand)
	default:
		text += fmt.Sprintf("%d darks on any cloudy night, or blur a master of five", w.Darks)
	}
	if w.BenefitPct.V < -worthTelling {
		return text, "blur theirs too, as it is it would " + change(w.BenefitPct.V) + " elsewhere"
	}
	return text, "elsewhere darks " + change(w.BenefitPct.V)
}

// yours is about the darks that there are.
func (w *Answer) yours() string {
	yours := fmt.Sprintf("your %d darks", w.AtHand)
	switch v := w.AtHandPct.V; {
	case v > worthTelling:
		return fmt.Sprintf("use %s, they %s", yours, change(v))
	case v < -worthTelling:
		return fmt.Sprintf("leave %s out, they %s", yours, change(v))
	default:
		return fmt.Sprintf("%s %s", yours, change(v))
	}
}

// worthTelling is the change of noise in percent that is called none.
const worthTelling = 0.25

// change is what darks do to the noise: "lower the noise by 2 %".
func change(pct float64) string {
	switch {
	case math.Abs(pct) < worthTelling:
		return fmt.Sprintf("change nothing (%s)", signed(-pct))
	case pct < 0:
		return "raise the noise by " + percent(-pct)
	}
	return "lower the noise by " + percent(pct)
}

// changes is change with its error.
func changes(pct, err float64) string {
	if !(err >= 0.5) {
		return change(pct)
	}
	return fmt.Sprintf("lower the noise by %.0f ± %.0f %%", pct, err)
}

// longer is what longer subs would make of it.
func (w *Answer) longer() string {
	if len(w.Gains) < 2 || w.Gains[1].BenefitPct.V < worthTelling {
		return ""
	}
	g := w.Gains[1]
	return fmt.Sprintf(", with subs of %s by %s", seconds(g.Exposure), percent(g.BenefitPct.V))
}

func (w *Answer) glowShare() string {
	if !w.GlowPct.OK() {
		return "there is hardly any sky there"
	}
	return plain(w.GlowPct.V) + " % of the sky there"
}

// caveatWords are what the verdict rests on, in brackets.
func (w *Answer) caveatWords() string {
	var words []string
	for _, c := range w.Caveats {
		if c == GlowUnknown {
			continue // it would change nothing, or the verdict was taken back
		}
		words = append(words, map[Caveat]string{
			SkyWithDark:   "sky with its dark current",
			DarkFromNoise: "dark current by the darks' noise, for the camera levels its frames",
			DarkNotMoved:  "dark current as measured at the darks' temperature",
			FromSubs:      "by the subs alone",
			FromLedger:    "by darks of an earlier night",
			PatternLimit:  "no dark pattern is seen in them",
			DitherUnknown: "the subs taken as not dithered",
		}[c])
	}
	if words == nil {
		return ""
	}
	return " (" + strings.Join(words, ", ") + ")"
}

func at(place string) string {
	if place == "" {
		return ""
	}
	return " in the " + place
}

// words say whether a library of darks still fits.
func (l *Library) words(whose string) string {
	text := fmt.Sprintf("%s of %s still fit", whose, l.Date)
	if l.Verdict != "still valid" {
		text = fmt.Sprintf("%s of %s no longer fit, shoot new ones", whose, l.Date)
	}
	text += fmt.Sprintf(": of %d hot pixels looked at %d are gone and %d new", l.Known, l.Gone, l.New)
	switch {
	case l.levelOld():
		text += fmt.Sprintf("; their dark current is %.2f times what it was: was the sensor as cold?", l.Level.V)
	case l.patternOld():
		text += fmt.Sprintf("; the pattern differs by %.2g e- of its %.2g", l.Changed.V, l.Pattern)
	case 3*l.Changed.Err < oldPattern*l.Pattern:
		text += ", the pattern is what it was"
	}
	return text
}

// besideDarks tell what bias frames do where darks are taken off, where they are not, and
// where nothing is.
func (w *Master) besideDarks(darks int) string {
	return fmt.Sprintf("not needed beside your %d darks, which hold the offset; in place of them %s, and with neither the offset's pattern adds %s",
		darks, w.suffices("bias frames"), percent(w.WithoutPct))
}

// biasWords tell what those at hand do, how many suffice, and what none does.
func (w *Master) biasWords() string {
	text := "none fit"
	if w.Have > 0 {
		text = fmt.Sprintf("%s: your %d add %s to the stack's noise", w.Verdict, w.Have, percent(w.HavePct.V))
	}
	return fmt.Sprintf("%s; %s, and with none the offset's pattern adds %s", text, w.suffices("bias frames"), percent(w.WithoutPct))
}

// flatWords tell how many flats suffice.
func (w *Master) flatWords() string {
	if w.Have == 0 {
		return "none fit; " + w.suffices("flats lit to half of the range")
	}
	text := fmt.Sprintf("%s: your %d add %s to the stack's noise", w.Verdict, w.Have, percent(w.HavePct.V))
	if w.Suffices > 0 && (w.Suffices < w.Have || w.Verdict != "enough") {
		text += fmt.Sprintf(", %d would do", w.Suffices)
	}
	if w.Corner.OK() {
		text += fmt.Sprintf("; with none the corners are %.0f %% dark", w.Corner.V)
	}
	return text
}

// suffices is how many frames would do and what more of them bring.
func (w *Master) suffices(what string) string {
	if w.Suffices == 0 {
		return fmt.Sprintf("even %d add %s", w.Most, percent(w.MostPct))
	}
	if w.Suffices == w.Most {
		return fmt.Sprintf("%d %s would do", w.Most, what)
	}
	if w.SufficesPct-w.MostPct < enoughPct {
		return fmt.Sprintf("%d %s would do, %d change nothing", w.Suffices, what, w.Most)
	}
	return fmt.Sprintf("%d %s would do", w.Suffices, what)
}

// percent prints as many digits as a share of noise deserves.
func percent(v float64) string {
	switch a := math.Abs(v); {
	case a < 0.05:
		return "under 0.1 %"
	case a < 9.5:
		return fmt.Sprintf("%.1f %%", v)
	}
	return fmt.Sprintf("%.0f %%", v)
}

// signed is a change of the noise in percent with its sign.
func signed(v float64) string {
	if math.Abs(v) < 0.05 {
		return "0.0 %"
	}
	return strings.Replace(fmt.Sprintf("%+.1f %%", v), "-", "−", 1)
}

// counted is so many things, to two digits.
func counted(n float64, thing string) string {
	if n < 1.5 {
		return "1 " + thing
	}
	digits := math.Pow(10, math.Max(0, math.Floor(math.Log10(n))-1))
	return fmt.Sprintf("%.0f %ss", math.Round(n/digits)*digits, thing)
}

func seconds(s float64) string {
	if s >= 7200 {
		return fmt.Sprintf("%.1f h", s/3600)
	}
	return strconv.FormatFloat(math.Round(10*s)/10, 'f', -1, 64) + " s"
}

// plain is a number of two digits and more, without an exponent.
func plain(v float64) string {
	if math.Abs(v) >= 9.95 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.2g", v)
}
