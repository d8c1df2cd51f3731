package say

import (
	"fmt"
	"strings"

	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

var frameNames = map[frames.Kind]string{frames.Bias: "bias frame", frames.Dark: "dark", frames.Flat: "flat"}

// FrameName is what one calibration frame of a kind is called.
func FrameName(k frames.Kind) string { return frameNames[k] }

// Fit is how well calibration frames of one kind cover a group of subs.
func Fit(m *calib.Fit) string {
	switch {
	case m.Processed:
		return "none applied, the subs were calibrated or aligned before"
	case m.Unusable.Code != "":
		return fmt.Sprintf("no usable %ss: %s", frameNames[m.Kind], Fact(m.Unusable))
	case m.Frames == 0:
		return "no " + frameNames[m.Kind] + "s"
	}
	verb := " fit"
	if m.Frames == 1 || m.Count == 1 {
		verb = " fits"
	}
	switch {
	case !m.Fits:
		return fmt.Sprintf("%s, not matching: %s", candidate(m), strings.Join(differences(m.Mismatches), "; ")) + serving(m)
	case len(m.Unknown) > 0:
		var unknown []string
		for _, p := range m.Unknown {
			unknown = append(unknown, string(p))
		}
		return fmt.Sprintf("%s%s as far as the headers tell (%s unknown)", candidate(m), verb, strings.Join(unknown, ", "))
	}
	return candidate(m) + verb
}

// serving tells what frames that do not match are of use for; "" for nothing.
func serving(m *calib.Fit) string {
	switch {
	case !m.Serves():
		return ""
	case m.Kind == frames.Flat:
		return ", but the light falls alike: " + verb(m.Frames, "it serves", "they serve")
	}
	return ", to which bias frames let " + verb(m.Frames, "it", "them") + " be scaled"
}

func candidate(m *calib.Fit) string {
	switch {
	case m.Master && m.Count > 1:
		return fmt.Sprintf("a master %s of %s", m.Kind, fact.Plural(m.Count, "frame"))
	case m.Master:
		return fmt.Sprintf("a master %s (of how many frames is not known)", m.Kind)
	case m.Unsure:
		return "1 " + frameNames[m.Kind] + " (whether raw or a master is not known)"
	case m.Count > 0 && m.Count < m.Frames: // the others are copies, cut short, off in level
		return fmt.Sprintf("%d of ", m.Count) + fact.Plural(m.Frames, frameNames[m.Kind])
	}
	if m.Beside > 0 {
		return fmt.Sprintf("%d %ss of the subs' temperatures", m.Frames, frameNames[m.Kind])
	}
	return fact.Plural(m.Frames, frameNames[m.Kind])
}

func differences(all []calib.Mismatch) []string {
	var texts []string
	for _, m := range all {
		text := fmt.Sprintf("%s %s, subs %s", m.Property, m.Frames, m.Subs)
		if m.Property == calib.OfRotation {
			text = fmt.Sprintf("%s, subs at %s", m.Frames, m.Subs)
		}
		texts = append(texts, text)
	}
	return texts
}
