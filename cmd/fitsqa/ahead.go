package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"
	_ "time/tzdata" // --zone works on machines without a zone database

	"github.com/spf13/cobra"

	"fitsqa/internal/ahead"
	"fitsqa/internal/ledger"
	"fitsqa/internal/night"
	"fitsqa/internal/report"
	"fitsqa/internal/sky"
)

const aheadAbout = `
Plans the coming nights from the ledger and the goals of the settings file (or,
without goals, from what was shot before): when it is dark, where Moon and
targets stand, which filter to shoot when, for how long and under what sky.
Never point a telescope without a solar filter near the Sun.
`

type aheadOptions struct {
	night, zone    string
	days           int
	altitude       float64
	config, ledger string
	site           *sky.Site
	json           bool
	ics            string
}

func aheadCommand() *cobra.Command {
	var o aheadOptions
	cmd := command("ahead [flags]", "plan the coming nights", aheadAbout,
		func(cmd *cobra.Command, args []string) int { return runAhead(cmd, &o, args) })
	fs := cmd.Flags()
	fs.StringVar(&o.night, "night", "", "`date` of the first evening (2026-03-14); without it tonight")
	fs.IntVar(&o.days, "days", ahead.DefaultOptions.Nights, "how many `nights`")
	fs.Float64Var(&o.altitude, "altitude", ahead.DefaultOptions.MinAltitude, "targets lower than so many `degrees` are left alone")
	fs.StringVar(&o.zone, "zone", "", "time `zone` of the table, such as Africa/Lagos; without it this computer's")
	fs.Var(&siteFlag{&o.site}, "site", "`LAT,LON[,HEIGHT]` of the telescope, where it is not that of the settings file or of the latest night")
	fs.StringVarP(&o.config, "config", "c", "", "settings `file` with goals, filters and site")
	fs.StringVar(&o.ledger, "ledger", "", "ledger `file` of the season, when not the one in the user's data folder")
	fs.BoolVar(&o.json, "json", false, "write JSON instead of the table")
	fs.StringVar(&o.ics, "ics", "", "also write the plan as a calendar `file`")
	return cmd
}

func runAhead(cmd *cobra.Command, o *aheadOptions, args []string) int {
	stdout, stderr := cmd.OutOrStdout(), cmd.ErrOrStderr()
	if len(args) > 0 {
		return usageError(stderr, cmd, noNames(args))
	}
	zone, from, err := o.when(time.Now())
	if err != nil {
		return usageError(stderr, cmd, err)
	}
	s := night.DefaultSettings()
	if o.config != "" {
		if err := loadConfig(o.config, &s); err != nil {
			return usageError(stderr, cmd, err)
		}
	}
	season, err := loadSeason(cmd.Context(), o.ledger)
	if err != nil {
		fmt.Fprintln(stderr, "fitsqa ahead:", err)
		return exitOutput
	}
	site, err := season.Site(firstSite(o.site, s.Site))
	if err != nil {
		return usageError(stderr, cmd, err)
	}
	out := ahead.Outlook{Site: site, Zone: zone, Options: ahead.DefaultOptions}
	out.Options.Nights, out.Options.MinAltitude = o.days, o.altitude
	out.Options.ReadNoiseShare, out.Options.MaxExposure = s.Plan.ReadNoiseShare, s.Plan.MaxExposure
	out.Targets, out.Unplaced = season.Targets(s.Plan, site)
	if len(out.Targets)+len(out.Unplaced) == 0 {
		fmt.Fprintln(stderr, "fitsqa ahead: nothing to plan: the ledger holds no night yet, and there are no goals")
		return exitNothing
	}
	// A date is an evening: six hours after the site's noon are within its night.
	out.Nights = ahead.Plan(site, from(site), out.Targets, out.Options)
	if err := o.write(stdout, out); err != nil {
		fmt.Fprintln(stderr, "fitsqa ahead:", err)
		return exitOutput
	}
	return exitDone
}

// when reads zone and date; from gives a time within the first night.
func (o *aheadOptions) when(now time.Time) (zone *time.Location, from func(*sky.Site) time.Time, err error) {
	zone = time.Local
	if o.zone != "" {
		if zone, err = time.LoadLocation(o.zone); err != nil {
			return nil, nil, fmt.Errorf("--zone: %w", err)
		}
	}
	switch {
	case o.days < 1 || o.days > 400:
		return nil, nil, errors.New("--days must be from 1 to 400")
	case !(o.altitude >= 0 && o.altitude < 90):
		return nil, nil, errors.New("--altitude must be from 0 to below 90 degrees")
	case o.night == "":
		return zone, func(*sky.Site) time.Time { return now }, nil
	}
	date, err := time.Parse(time.DateOnly, o.night)
	if err != nil {
		return nil, nil, fmt.Errorf("--night %q is no date like 2026-03-14", o.night)
	}
	return zone, func(site *sky.Site) time.Time {
		noon := date.Add(time.Duration((12 - site.Lon/15) * float64(time.Hour)))
		return noon.Add(6 * time.Hour)
	}, nil
}

// firstSite is the first that is there.
func firstSite(sites ...*sky.Site) *sky.Site {
	for _, s := range sites {
		if s != nil {
			return s
		}
	}
	return nil
}

// loadSeason reads the ledger; one that does not exist yet is empty.
func loadSeason(ctx context.Context, path string) (ahead.Season, error) {
	flags := seasonFlags{path: path}
	var s ahead.Season
	path, err := flags.file()
	if err != nil {
		return s, err
	}
	l, err := ledger.OpenExisting(ctx, path)
	if errors.Is(err, fs.ErrNotExist) {
		return s, nil
	}
	if err != nil {
		return s, err
	}
	defer l.Close()
	if s.Subs, err = l.Subs(ctx); err != nil {
		return s, err
	}
	if s.Hours, err = l.Hours(ctx); err != nil {
		return s, err
	}
	s.Camera, err = l.Remembered(ctx)
	return s, err
}

func (o *aheadOptions) write(stdout io.Writer, out ahead.Outlook) error {
	if o.ics != "" {
		f, err := os.Create(o.ics)
		if err != nil {
			return err
		}
		if err := errors.Join(report.Calendar(f, out, time.Now()), f.Close()); err != nil {
			return err
		}
	}
	if o.json {
		return report.AheadJSON(stdout, out)
	}
	return report.AheadText(stdout, out)
}
