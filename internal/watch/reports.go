package watch

import (
	"context"
	"time"
)

// busyShare bounds the share of time that reports take: what they cost grows with
// the night.
const busyShare = 10

// reports are written beside the watch, when something is new and not too often.
type reports struct {
	every time.Duration
	write func(context.Context) error

	dirty  bool
	next   time.Time
	begun  time.Time
	cancel context.CancelFunc
	done   chan error // nil when none is being written
}

func (r *reports) now(ctx context.Context) error {
	begun := time.Now()
	err := r.write(ctx)
	r.plan(begun, time.Now())
	return err
}

func (r *reports) plan(begun, end time.Time) {
	r.next = end.Add(max(r.every, busyShare*end.Sub(begun)))
}

// step begins to write them when it is time, and gives what went wrong.
func (r *reports) step(ctx context.Context, now time.Time) (wrong []error) {
	if r.done != nil {
		select {
		case err := <-r.done:
			r.done = nil
			r.cancel()
			r.plan(r.begun, now)
			if err != nil && ctx.Err() == nil {
				wrong = append(wrong, err)
			}
		default:
		}
	}
	if r.done == nil && r.dirty && !now.Before(r.next) {
		r.begin(ctx, now)
	}
	return wrong
}

func (r *reports) begin(ctx context.Context, now time.Time) {
	ctx, r.cancel = context.WithCancel(ctx)
	r.dirty, r.begun, r.done = false, now, make(chan error, 1)
	go func(done chan<- error) { done <- r.write(ctx) }(r.done)
}

// stop gives up what is being written, and waits until it is.
func (r *reports) stop() {
	if r.done != nil {
		r.cancel()
		<-r.done
	}
}
