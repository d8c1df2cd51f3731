package watch

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"fitsqa/internal/frames"
)

// A command that hangs must hold up neither the watch nor later alerts for long.
const (
	hookTime  = 30 * time.Second
	hookQueue = 16
)

// hook gives alerts to a command of the user's, one after the other, beside the
// watch.
type hook struct {
	command []string
	wrong   func(text string)
	queue   chan told
	done    chan struct{}
}

type told struct {
	Alert
	sentence string
}

// NewHook runs a command, its name and arguments, for every alert. wrong is told
// of a command that fails, from another goroutine.
func NewHook(command []string, wrong func(text string)) *hook {
	h := &hook{command, wrong, make(chan told, hookQueue), make(chan struct{})}
	go h.work()
	return h
}

// Tell hands over an alert and its sentence; it never waits.
func (h *hook) Tell(a Alert, sentence string) {
	select {
	case h.queue <- told{a, sentence}:
	default:
		h.wrong("the command for alerts is too slow: one was left out")
	}
}

// Close waits for what was handed over.
func (h *hook) Close() {
	close(h.queue)
	<-h.done
}

func (h *hook) work() {
	defer close(h.done)
	for a := range h.queue {
		if err := h.run(a); err != nil {
			h.wrong("the command for alerts failed: " + frames.Printable(err.Error()))
		}
	}
}

func (h *hook) run(a told) error {
	ctx, cancel := context.WithTimeout(context.Background(), hookTime)
	defer cancel()
	cmd := exec.CommandContext(ctx, h.command[0], h.command[1:]...)
	cmd.Env = append(os.Environ(), environment(a)...)
	cmd.WaitDelay = time.Second // a child of its own may hold its output open
	out, err := cmd.CombinedOutput()
	if err != nil && len(out) > 0 {
		return fmt.Errorf("%w: %.200s", err, out)
	}
	return err
}

func environment(a told) []string {
	file := a.File
	if abs, err := filepath.Abs(file); file != "" && err == nil {
		file = abs
	}
	at := ""
	if !a.Time.IsZero() {
		at = a.Time.UTC().Format("2006-01-02T15:04:05Z")
	}
	var list []string
	for _, v := range [][2]string{{"ALERT", string(a.Kind)}, {"WORDS", a.sentence}, {"FILE", file}, {"TARGET", a.Target}, {"FILTER", a.Filter}, {"TIME", at}} {
		list = append(list, "FITSQA_"+v[0]+"="+strings.ReplaceAll(v[1], "\x00", ""))
	}
	return list
}
