package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"fitsqa/internal/night"
	"fitsqa/internal/sky"
	"fitsqa/internal/subs"
)

// settingFlags are the settings that have a flag of their own, under the name
// of their key; --set reaches every other.
type settingFlags struct {
	workers, memory int
	site            *sky.Site
	maps            bool
	aim             string
	set             []string
}

func (f *settingFlags) addFlags(fs *pflag.FlagSet) {
	d := night.DefaultSettings()
	fs.IntVarP(&f.workers, "workers", "j", d.Workers, "`frames` measured at once, and processors used; without it as many as there are")
	fs.IntVar(&f.memory, "memory", d.MemoryMiB, "memory to stay under, `MiB`: fewer workers run when frames are large, but always one")
	fs.Var(&siteFlag{&f.site}, "site", "`LAT,LON[,HEIGHT]` of the telescope, degrees (north and east positive) and metres, where headers do not tell")
	fs.StringVar(&f.aim, "aim", string(d.Limits.Aim), "what the stack is `for`, by which soft and trailed subs are culled: depth, balance or detail")
	fs.BoolVar(&f.maps, "maps", false, "also write the hot pixels of each dark set, as a list and as a FITS mask")
	fs.StringArrayVar(&f.set, "set", nil, "a `KEY=VALUE` of the settings file, as in --set stars.threshold=6; can be given again")
}

// apply puts what was given on the command line over what s holds.
func (f *settingFlags) apply(fs *pflag.FlagSet, s *night.Settings) error {
	if fs.Changed("workers") {
		s.Workers = f.workers
	}
	if fs.Changed("memory") {
		s.MemoryMiB = f.memory
	}
	if fs.Changed("site") {
		s.Site = f.site
	}
	if fs.Changed("aim") {
		s.Limits.Aim = subs.Aim(f.aim)
	}
	if fs.Changed("maps") {
		s.Calib.Maps = f.maps
	}
	return set(f.set, s)
}

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
		return errors.New("no place on Earth has these coordinates: latitude is from -90 to 90, longitude from -180 to 360 degrees")
	}
	*f.site = site
	return nil
}
