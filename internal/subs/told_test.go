package subs

import (
	"fmt"
	"strings"
)

// told is what leads of the findings on a sub: "width fwhm_px=4.9 times=1.46, limit limit=1.4".
func told(s *Sub) string {
	if len(s.Findings) == 0 {
		return ""
	}
	var parts []string
	for _, f := range s.Findings[0].Facts {
		part := string(f.Code)
		for _, v := range f.Values {
			if v.Text != "" {
				part += fmt.Sprintf(" %s=%s", v.Name, v.Text)
			} else {
				part += fmt.Sprintf(" %s=%.3g", v.Name, v.Number)
			}
		}
		parts = append(parts, part)
	}
	return strings.Join(parts, ", ")
}
