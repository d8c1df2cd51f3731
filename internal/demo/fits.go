package demo

import (
	"fmt"
	"io"
	"math"
	"time"

	"github.com/astrogo/fitsio"
)

// encode writes one frame as a 16-bit FITS file.
func encode(w io.Writer, width, height int, pixels []uint16, cards []fitsio.Card) error {
	f, err := fitsio.Create(w)
	if err != nil {
		return err
	}
	defer f.Close()
	img := fitsio.NewImage(16, []int{width, height})
	defer img.Close()
	scaling := []fitsio.Card{
		{Name: "BZERO", Value: 32768, Comment: "samples are unsigned"},
		{Name: "BSCALE", Value: 1},
	}
	if err := img.Header().Append(append(scaling, cards...)...); err != nil {
		return err
	}
	signed := make([]int16, len(pixels))
	for i, v := range pixels {
		signed[i] = int16(v ^ 0x8000) // v - 32768 in two's complement
	}
	if err := img.Write(signed); err != nil {
		return err
	}
	return f.Write(img)
}

func (c Camera) common(kind string, start time.Time, exposure, setC, sensorC float64) []fitsio.Card {
	return []fitsio.Card{
		{Name: "IMAGETYP", Value: kind},
		{Name: "DATE-OBS", Value: start.UTC().Format("2006-01-02T15:04:05.000"), Comment: "UTC, start of exposure"},
		{Name: "EXPTIME", Value: exposure, Comment: "[s]"},
		{Name: "INSTRUME", Value: c.Name},
		{Name: "XPIXSZ", Value: c.PixelUM, Comment: "[um]"},
		{Name: "YPIXSZ", Value: c.PixelUM, Comment: "[um]"},
		{Name: "XBINNING", Value: 1},
		{Name: "YBINNING", Value: 1},
		{Name: "GAIN", Value: c.GainSetting},
		{Name: "OFFSET", Value: c.OffsetSetting},
		{Name: "EGAIN", Value: c.HeaderGain, Comment: "[e-/ADU]"},
		{Name: "SET-TEMP", Value: setC, Comment: "[deg C]"},
		{Name: "CCD-TEMP", Value: sensorC, Comment: "[deg C]"},
		{Name: "CREATOR", Value: "fitsqa demo", Comment: "synthetic, not a real observation"},
	}
}

func (c Camera) telescope(filter string) []fitsio.Card {
	return []fitsio.Card{
		{Name: "TELESCOP", Value: "Newtonian 250 mm f/4"},
		{Name: "FOCALLEN", Value: c.FocalMM, Comment: "[mm]"},
		{Name: "APTDIA", Value: c.ApertureMM, Comment: "[mm]"},
		{Name: "FILTER", Value: filter},
	}
}

func (s *scene) pointing() []fitsio.Card {
	side := "WEST" // where the telescope hangs while its target is in the east, before the flip
	if s.flipped {
		side = "EAST"
	}
	return []fitsio.Card{
		{Name: "OBJECT", Value: s.Target},
		{Name: "RA", Value: s.ra, Comment: "[deg] J2000"},
		{Name: "DEC", Value: s.dec, Comment: "[deg] J2000"},
		{Name: "OBJCTRA", Value: sexagesimal(s.ra/15, "%s%02d %02d %05.2f", ""), Comment: "[h m s] J2000"},
		{Name: "OBJCTDEC", Value: sexagesimal(s.dec, "%s%02d %02d %04.1f", "+"), Comment: "[d m s] J2000"},
		{Name: "AIRMASS", Value: math.Round(s.Airmass*1e4) / 1e4},
		{Name: "PIERSIDE", Value: side},
		{Name: "SITELAT", Value: site.Lat, Comment: "[deg]"},
		{Name: "SITELONG", Value: site.Lon, Comment: "[deg] east positive"},
		{Name: "SITEELEV", Value: site.Elevation, Comment: "[m]"},
		{Name: "FOCPOS", Value: 18250},
		{Name: "FOCTEMP", Value: math.Round(s.ambient*10) / 10, Comment: "[deg C]"},
	}
}

// sexagesimal prints a number of hours or degrees in base 60: sign, whole
// part, minutes, seconds. plus is the sign of what is not negative.
func sexagesimal(v float64, format, plus string) string {
	sign := plus
	if v < 0 {
		sign = "-"
	}
	hundredths := int(math.Round(math.Abs(v) * 3600 * 100)) // rounded first, so that no 60 s are printed
	return fmt.Sprintf(format, sign, hundredths/360000, hundredths/6000%60, float64(hundredths%6000)/100)
}
