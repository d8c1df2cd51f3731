// Package watch follows a folder while the night runs: every frame is read once
// it is whole, measured once, written in one line, and what goes wrong is reported at
// once.
//
// Model. A file is whole when its size and time have rested for a while; one that
// even then cannot be read is tried again when it changes, and believed to be
// broken only after longer. What happened to a folder is found by looking at it;
// the system's word that something did only makes the next look come sooner, so
// that network folders, which send no such word, are followed too. A sub is
// measured and judged by night.Follow, for a price that does not grow; reports are
// those of a whole run, beside, and no more often than a tenth of the time.
//
// The night's own clock is what alarms of time go by: the end of the latest sub,
// and what has passed since it arrived. So neither a computer whose clock is wrong
// nor a folder that is synchronised late makes a false alarm.
package watch

import (
	"context"
	"fmt"
	"slices"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
)

// options say what is watched and who is called. Times are positive.
type options struct {
	Roots    []string
	Settings night.Settings

	Rest     time.Duration // a file is whole when nothing about it changed for so long
	Patience time.Duration // one that cannot be read is broken after so long
	Poll     time.Duration // between looks at the folder when the system says nothing
	Every    time.Duration // between reports, at least
	Notify   bool          // ask the system for word of changes

	Begun  func()                            // called once the folder could be looked at
	Line   func(text string)                 // called for what the user should know
	Sub    func(night.Seen, night.LocalTime) // called for every sub that arrives
	Alert  func(Alert)                       // called for every alarm once
	Report func(ctx context.Context) error   // writes the reports anew; called from one goroutine at a time
	Room   func(path string) (bytes int64)   // free on the disk of a folder; negative when not known
}

// DefaultOptions are what the command line starts from.
var DefaultOptions = options{Rest: 2 * time.Second, Patience: time.Minute, Poll: 5 * time.Second, Every: time.Minute, Notify: true}

const tick = 250 * time.Millisecond

type watcher struct {
	options
	folder   *folder
	follow   *night.Follow
	alarms   alarms
	reports  reports
	clock    clock
	room     []Alert           // of the disk, as last asked
	reported map[string]string // what was measured of recent subs, by path
	away     bool              // the folder could not be looked at
}

// Run watches until ctx ends, which is no error. What is in the folder when it
// begins is measured and reported, but has no line a sub. The last reports are
// the caller's: ctx has ended.
func Run(ctx context.Context, o options) error {
	follow, err := night.NewFollow(o.Roots, o.Settings)
	if err != nil {
		return err
	}
	w := &watcher{options: o, follow: follow, reported: map[string]string{},
		folder: newFolder(o.Roots, o.Settings.Frames, o.Rest, o.Patience), reports: reports{every: o.Every, write: o.Report}}
	defer w.reports.stop()
	changes := silence
	if o.Notify {
		n, err := notify(o.Roots)
		if err != nil {
			w.Line(fmt.Sprintf("The system tells of no changes (%s): looking every %.0f s.", frames.Printable(err.Error()), o.Poll.Seconds()))
		} else {
			defer n.close()
			changes = n.changed
		}
	}
	if err := w.begin(ctx); err != nil {
		return w.ended(ctx, err)
	}
	ticker := time.NewTicker(tick)
	defer ticker.Stop()
	for {
		var heard bool
		select {
		case <-ctx.Done():
			return nil
		case <-changes:
			heard = true
		case <-ticker.C:
		}
		if err := w.step(ctx, time.Now(), heard); err != nil {
			return w.ended(ctx, err)
		}
	}
}

func (w *watcher) ended(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return nil
	}
	return err
}

func (w *watcher) begin(ctx context.Context) error {
	there, err := w.folder.all(ctx, time.Now())
	if err != nil {
		return err
	}
	w.Begun()
	if len(there) == 0 {
		return nil
	}
	w.Line("Begins with " + fact.Plural(len(there), "file") + ".")
	if err := w.reports.now(ctx); err != nil && ctx.Err() == nil {
		w.noReports(err)
	}
	subs, err := w.follow.Read(ctx, there)
	if err != nil {
		return err
	}
	for _, s := range subs[max(0, len(subs)-night.RecentSubs):] {
		if err := w.follow.Measure(ctx, s); err != nil {
			return err
		}
	}
	w.alarms.ofSub(alertsOf(w.follow.Judge(), w.Settings.Limits))
	return nil
}

func (w *watcher) step(ctx context.Context, now time.Time, heard bool) error {
	if w.folder.due(now, heard, w.Poll) {
		ready, gone, err := w.folder.look(ctx, now)
		if ctx.Err() != nil { // stopped while it looked: the folder is not away
			return ctx.Err()
		}
		if w.cannotLook(err) {
			return nil
		}
		for _, path := range gone {
			w.follow.Forget(path)
			delete(w.reported, path)
			w.reports.dirty = true
		}
		if len(ready) > 0 {
			if err := w.take(ctx, ready); err != nil && ctx.Err() == nil {
				w.folder.again(ready)
				w.cannotLook(err)
			}
		}
	}
	w.raise(w.alarms.ofTime(w.timed(now)))
	for _, err := range w.reports.step(ctx, now) {
		w.noReports(err)
	}
	return nil
}

func (w *watcher) noReports(err error) {
	w.Line("The reports could not be written: " + frames.Printable(err.Error()))
}

// cannotLook tells whether the folder could not be looked at, once each time that it
// goes away: a network folder comes back.
func (w *watcher) cannotLook(err error) bool {
	if lost := err != nil; lost != w.away {
		w.away = lost
		if lost {
			w.Line("The folder cannot be read, trying on: " + frames.Printable(err.Error()))
		} else {
			w.Line("The folder is back.")
		}
	}
	return w.away
}

func (w *watcher) take(ctx context.Context, ready []string) error {
	w.reports.dirty = true
	w.clock.heard(time.Now())
	subs, err := w.follow.Read(ctx, ready)
	if err != nil {
		return err
	}
	for _, s := range subs {
		if s.Err != nil && w.folder.tooEarly(s.Path) {
			continue
		}
		if err := w.follow.Measure(ctx, s); err != nil {
			return err
		}
		m := w.follow.Judge()
		if unread(m, s.Path) && w.folder.tooEarly(s.Path) { // it changed since its header was read
			w.follow.Forget(s.Path)
			continue
		}
		w.tell(m, s.Path)
		if w.clock.seen(m, time.Now()) {
			w.raise(w.alarms.ofSub(alertsOf(m, w.Settings.Limits)))
		}
	}
	if len(w.reported) > 2*night.RecentSubs {
		clear(w.reported)
	}
	return nil
}

func unread(m *night.Moment, path string) bool {
	return slices.ContainsFunc(m.Seen, func(s night.Seen) bool { return s.Path == path && s.ReadErr != "" })
}

// tell writes the line of a sub, unless the same was measured and written before: what
// else came since may have changed its verdict, but it is the same frame.
func (w *watcher) tell(m *night.Moment, path string) {
	for _, s := range m.Seen {
		if s.Path != path {
			continue
		}
		measured := fmt.Sprint(s.Start, s.SkyADU, s.NoiseADU, s.ReadErr)
		if w.reported[path] != measured && !w.folder.known(path) {
			w.Sub(s, m.Local)
		}
		w.reported[path] = measured
	}
}

func (w *watcher) raise(list []Alert) {
	for _, a := range list {
		w.Alert(a)
	}
}

func (w *watcher) timed(now time.Time) []Alert {
	if w.clock.roomDue(now) {
		w.room = roomFor(w.Room(w.Roots[0]), w.folder.frameBytes)
	}
	return append(w.clock.alarms(now), w.room...)
}
