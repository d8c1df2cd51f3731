package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"fitsqa/internal/night"
	"fitsqa/internal/sky"
)

// addSettingFlags binds flags to s; what s holds already is each flag's default.
func addSettingFlags(fs *pflag.FlagSet, s *night.Settings) {
	fs.IntVarP(&s.Workers, "workers", "j", s.Workers, "frames measured at once")
	fs.IntVar(&s.MemoryMiB, "memory", s.MemoryMiB, "memory to stay under, MiB: fewer workers run when frames are large, but always one")
	fs.Var(&siteFlag{&s.Site}, "site", "`LAT,LON[,HEIGHT]` of the telescope in degrees (north and east positive) and metres, where headers do not tell")
	fs.Float64Var(&s.Calib.TempTolC, "temp-tolerance", s.Calib.TempTolC, "a dark or bias fits a sub when their temperatures differ by no more, °C")
	fs.Float64Var(&s.Calib.ExposureTol, "exposure-tolerance", s.Calib.ExposureTol, "and their exposures by no more than this fraction")
	fs.Float64Var(&s.Calib.HotSigma, "hot-sigma", s.Calib.HotSigma, "a hot pixel stands this many robust sigma above the median dark rate, or more")
	fs.BoolVar(&s.Calib.Maps, "maps", s.Calib.Maps, "also write the hot pixels of each dark set, as a list and as a FITS mask")
	fs.Float64Var(&s.Stars.Threshold, "star-sigma", s.Stars.Threshold, "a star stands this many sigma above the noise after matched filtering")
	fs.IntVar(&s.Stars.MaxFits, "star-fits", s.Stars.MaxFits, "most stars of a sub whose profile is fitted")
	addLimitFlags(fs, &s.Limits)
}

// siteFlag reads LAT,LON[,HEIGHT].
type siteFlag struct{ site **sky.Site }

func (f *siteFlag) Type() string { return "place" }

func (f *siteFlag) String() string {
	if f.site == nil || *f.site == nil {
		return ""
	}
	return fmt.Sprintf("%g,%g,%g", (*f.site).Lat, (*f.site).Lon, (*f.site).Elevation)
}

func (f *siteFlag) Set(text string) error {
	parts := strings.Split(text, ",")
	if len(parts) != 2 && len(parts) != 3 {
		return fmt.Errorf("want LAT,LON or LAT,LON,HEIGHT")
	}
	var v [3]float64
	for i, p := range parts {
		x, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil {
			return fmt.Errorf("%q is not a number", p)
		}
		v[i] = x
	}
	site := &sky.Site{Lat: v[0], Lon: v[1], Elevation: v[2]}
	if !site.Valid() {
		return errors.New("no place on Earth has these coordinates: latitude is in -90..90, longitude in -180..360 degrees")
	}
	*f.site = site
	return nil
}
