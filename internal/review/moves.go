package review

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"strconv"

	"fitsqa/internal/cull"
)

type planView struct {
	Moves   []moveView    `json:"moves"`
	Refused []refusalView `json:"refused"`
	Digest  string        `json:"digest"` // of the moves: only what was shown is moved
}

type moveView struct {
	Path    string `json:"path"`
	Verdict string `json:"verdict"`
	Why     string `json:"why"`
}

type refusalView struct {
	Path   string `json:"path"`
	Reason string `json:"reason"`
}

type outcomeView struct {
	Moved   int           `json:"moved"`
	Refused []refusalView `json:"refused"`
}

var errOtherPlan = errors.New("the list changed since it was shown: look at it again")

func (b *book) plan(sel cull.Selection) (*cull.Plan, planView, error) {
	p, err := cull.NewPlan(b.files(), sel)
	if err != nil {
		return nil, planView{}, err
	}
	p.Night = b.night.roots
	v := planView{Moves: []moveView{}, Refused: refusals(p.Refused)}
	h := sha256.New()
	for _, m := range p.Moves {
		v.Moves = append(v.Moves, moveView{printable(m.Path), m.Final(), m.Why()})
		fmt.Fprintf(h, "%q %d %s\n", m.Path, m.Size, m.Modified)
	}
	v.Digest = hex.EncodeToString(h.Sum(nil))
	return p, v, nil
}

// move moves what was shown, by the code and the journal of the cull command.
func (b *book) move(ctx context.Context, sel cull.Selection, digest string) (outcomeView, error) {
	p, v, err := b.plan(sel)
	if err != nil {
		return outcomeView{}, err
	}
	if v.Digest != digest {
		return outcomeView{}, errOtherPlan
	}
	w := cull.Worker{OutDir: b.outdir}
	out, err := w.Apply(ctx, p)
	b.tellMoved(out.Moved, true)
	return outcomeView{len(out.Moved), refusals(out.Refused)}, err
}

// undo moves everything back that was moved from this output folder.
func (b *book) undo(ctx context.Context) (outcomeView, error) {
	w := cull.Worker{OutDir: b.outdir}
	out, err := w.Undo(ctx)
	b.tellMoved(out.Moved, false)
	return outcomeView{len(out.Moved), refusals(out.Refused)}, err
}

func (b *book) tellMoved(moves []cull.Move, moved bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	at := map[string]int{}
	for i, s := range b.night.subs {
		at[filepath.Clean(s.Path)] = i
	}
	c := change{Marks: map[int]string{}, Moved: map[int]bool{}}
	for _, m := range moves {
		if i, ok := at[m.Path]; ok {
			c.Moved[i] = moved
		}
	}
	b.tell(c)
}

func refusals(all []cull.Refusal) []refusalView {
	out := []refusalView{}
	for _, r := range all {
		out = append(out, refusalView{printable(r.Path), r.Reason})
	}
	return out
}

// printable is a path that a page can show: quoted where it holds control
// characters or bytes that are no text.
func printable(path string) string {
	if quoted := strconv.Quote(path); quoted != `"`+path+`"` {
		return quoted
	}
	return path
}
