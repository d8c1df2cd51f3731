package night

import (
	"fmt"

	"fitsqa/internal/names"
)

// View is what must be the same for two nights' light to be compared star by star.
type View struct {
	Target, Filter names.Key
	Optics         string // camera, binning and scale; and the gain setting while light is in ADU
}

// viewOf is what a sub's light can be compared under. The scale is the header's, which
// does not change in its last digits from night to night as a measured one does.
func viewOf(s *Sub) View {
	optics := fmt.Sprintf("%s, binning %d", s.Camera.Key(), s.Binning)
	if scale := s.Frame.Meta.PixelScale(); scale > 0 {
		optics += fmt.Sprintf(", %.3g arcsec/px", scale)
	}
	if !(s.ElectronsPerADU > 0) {
		optics += fmt.Sprintf(", ADU at gain %g", s.GainSetting)
	}
	return View{s.Target.Key(), s.Filter.Key(), optics}
}

// Setup is the best that a camera and telescope have shown through a filter, on
// whatever target, by the catalogue's magnitudes.
type Setup struct {
	Filter names.Key
	Optics string
	Zero   float64 // zero point of the clearest night at airmass 1, mag
	Night  string
}

func (s Season) setup(v View) *Setup {
	for i := range s.Setups {
		if s.Setups[i].Filter == v.Filter && s.Setups[i].Optics == v.Optics {
			return &s.Setups[i]
		}
	}
	return nil
}
