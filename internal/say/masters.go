package say

import (
	"fmt"

	"fitsqa/internal/fact"
	"fitsqa/internal/worth"
)

// Library tells whether darks of an earlier date still fit; "" when that was not asked.
func Library(l *worth.Library) string {
	switch {
	case l == nil:
		return ""
	case l.Verdict == "":
		return fmt.Sprintf("whether your darks of %s still fit cannot be told: %s", l.Date, Fact(l.Lacks))
	}
	whose := "your darks"
	if l.OfLedger {
		whose = "the ledger's darks"
	}
	text := fmt.Sprintf("%s of %s still fit", whose, l.Date)
	if l.Verdict != worth.StillValid {
		text = fmt.Sprintf("%s of %s no longer fit, shoot new ones", whose, l.Date)
	}
	text += fmt.Sprintf(": of %s looked at %d %s gone and %d new", fact.Plural(l.Known, "hot pixel"), l.Gone, verb(l.Gone, "is", "are"), l.New)
	switch {
	case l.LevelOld():
		text += fmt.Sprintf("; their dark current is %.2f times what it was: was the sensor as cold?", l.Level.V)
	case l.PatternOld():
		text += fmt.Sprintf("; the pattern differs by %.2g e- of its %.2g", l.Changed.V, l.Pattern)
	case l.PatternSure():
		text += ", the pattern is what it was"
	}
	return text
}

// Master tells whether bias frames or flats are enough; "" when there is no verdict.
func Master(w *worth.Master) string {
	switch {
	case w.Verdict == "":
		return ""
	case w.Verdict == worth.NotNeeded:
		return besideDarks(w)
	case w.Kind == "bias":
		return biasWords(w)
	}
	return flatWords(w)
}

func besideDarks(w *worth.Master) string {
	return fmt.Sprintf("not needed beside your %s, which %s the offset; in place of %s %s, and with neither the offset's pattern adds %s",
		fact.Plural(w.Darks, "dark"), verb(w.Darks, "holds", "hold"), verb(w.Darks, "it", "them"), suffices(w, "bias frame", ""), noisePct(w.WithoutPct))
}

func biasWords(w *worth.Master) string {
	text := "none fit"
	if w.Have > 0 {
		text = yoursAdd(w)
	}
	return fmt.Sprintf("%s; %s, and with none the offset's pattern adds %s", text, suffices(w, "bias frame", ""), noisePct(w.WithoutPct))
}

func flatWords(w *worth.Master) string {
	if w.Have == 0 {
		return "none fit; " + suffices(w, "flat", " lit to half of the range")
	}
	text := yoursAdd(w)
	if w.Suffices > 0 && (w.Suffices < w.Have || w.Verdict != worth.Enough) {
		text += fmt.Sprintf(", %d would do", w.Suffices)
	}
	if w.Corner.OK() {
		text += fmt.Sprintf("; with none the corners are %.0f %% dark", w.Corner.V)
	}
	if w.Lifts() {
		text += "; " + lifted(w)
	}
	return text
}

func lifted(w *worth.Master) string {
	return fmt.Sprintf("without darks they leave the corners %.0f %% of the sky too bright, for they divide what no light made, the dark current, too", w.Lifted.V)
}

func yoursAdd(w *worth.Master) string {
	return fmt.Sprintf("%s: your %d %s %s to the stack's noise", w.Verdict, w.Have, verb(w.Have, "adds", "add"), noisePct(w.HavePct.V))
}

// suffices is how many frames, taken in such a way, would do and what more of them bring.
func suffices(w *worth.Master, what, how string) string {
	if w.Suffices == 0 {
		return fmt.Sprintf("even %d %s %s", w.Most, verb(w.Most, "adds", "add"), noisePct(w.MostPct))
	}
	text := fact.Plural(w.Suffices, what) + how + " would do"
	if w.Suffices < w.Most && w.SufficesPct-w.MostPct < worth.EnoughPct {
		text += fmt.Sprintf(", %d change nothing", w.Most)
	}
	return text
}
