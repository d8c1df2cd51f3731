package frames

import (
	"fmt"
	"testing"
	"time"
)

// A date of two readings is settled by the night's other files, however they are read.
func TestDatesOfTwoReadings(t *testing.T) {
	july, september := "2021-07-09", "2021-09-07"
	for _, c := range []struct {
		what   string
		date   string // of the frame in question
		others []string
		want   string
		open   bool
	}{
		{"alone", "9/7/2021 21:38:50", nil, july, true},
		{"alone, twelve hours", "9/7/2021 9:38:50 PM", nil, september, true},
		{"a day that is no month", "9/7/2021 21:38:50", []string{"13/7/2021 21:00:00", "14/7/2021 21:00:00", "15/7/2021 21:00:00"}, july, false},
		{"a day that is no month, in its place", "9/7/2021 21:38:50", []string{"8/31/2021 21:00:00"}, september, false},
		{"twelve hours and the day first", "9/7/2021 9:38:50 PM", []string{"8/9/2021 9:00:00 PM", "30/6/2021 9:00:00 PM"}, july, false},
		{"ISO of the same night", "9/7/2021 21:38:50", []string{"2021-09-08T03:00:00"}, september, false},
		{"ISO of the same night, as taken", "9/7/2021 21:38:50", []string{"2021-07-10T03:00:00"}, july, false},
		{"ISO of another month", "9/7/2021 21:38:50", []string{"2021-05-10T03:00:00"}, july, true},
		{"nights of both readings", "9/7/2021 21:38:50", []string{"2021-09-08T03:00:00", "2021-07-10T03:00:00"}, july, true},
		{"dates that contradict each other", "9/7/2021 21:38:50", []string{"13/7/2021 21:00:00", "8/31/2021 21:00:00"}, july, true},
		{"another of two readings", "9/7/2021 21:38:50", []string{"10/7/2021 02:00:00"}, july, true},
		{"day and month alike", "7/7/2021 21:38:50", []string{"8/31/2021 21:00:00"}, "2021-07-07", false},
	} {
		dir := t.TempDir()
		writeIn(t, dir, "x.fits", biasScene.file("EXPTIME = 60", "IMAGETYP= 'Light'", "DATE-OBS= '"+c.date+"'"))
		for i, o := range c.others {
			writeIn(t, dir, fmt.Sprintf("o%d.fits", i), biasScene.file("EXPTIME = 60", "IMAGETYP= 'Light'", "DATE-OBS= '"+o+"'"))
		}
		writeIn(t, dir, "y.fits", biasScene.file("EXPTIME = 60", "IMAGETYP= 'Light'", "DATE-OBS= '"+c.date+"'"))
		all := byName(scanDir(t, dir))
		f := all["x.fits"]
		if !f.Meta.Start.Equal(all["y.fits"].Meta.Start) {
			t.Errorf("%s: two frames of one date part", c.what)
		}
		if got := f.Meta.Start.Format(time.DateTime); got != c.want+" 21:38:50" || warned(f, DayOrMonth) != c.open {
			t.Errorf("%s: %s, want %s; %v", c.what, got, c.want, f.Findings)
		}
	}
}
