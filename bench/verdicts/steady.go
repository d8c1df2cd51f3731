package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"

	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// folder judges a copy of real subs, again and again without some of them.
func (b *bench) folder(ctx context.Context, from string, tries int) error {
	dir := filepath.Join(b.dir, filepath.Base(from))
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	full, err := b.judge(ctx, dir)
	if err != nil {
		return err
	}
	b.draws = tries
	if err := b.tryStability(ctx, dir, full, 0); err != nil {
		return err
	}
	fmt.Printf("without a tenth  %s change\nwithout half     %s change\nsecond pass      culls %d more\n", b.tenth, b.half, b.second)
	return nil
}

// tryStability judges the night again without some of its subs, drawn from the seed on,
// and without those that it culled.
func (b *bench) tryStability(ctx context.Context, dir string, full *night.Result, seed uint64) error {
	before := map[string]*night.Sub{}
	for _, s := range full.Subs {
		before[s.File] = s
	}
	for draw := range uint64(b.draws) {
		rng := rand.New(rand.NewPCG(seed+draw, uint64(len(full.Subs))))
		for _, part := range []struct {
			share float64
			tally *change
		}{{0.1, &b.tenth}, {0.5, &b.half}} {
			out := map[string]bool{}
			for _, i := range rng.Perm(len(full.Subs))[:int(part.share*float64(len(full.Subs))+0.5)] {
				out[full.Subs[i].File] = true
			}
			if err := b.tryWithout(ctx, dir, out, before, part.share, part.tally); err != nil {
				return err
			}
		}
	}
	return b.secondPass(ctx, dir, before)
}

// tryWithout counts the verdicts that change without some of the subs.
func (b *bench) tryWithout(ctx context.Context, dir string, out map[string]bool, before map[string]*night.Sub, share float64, tally *change) error {
	r, err := b.without(ctx, dir, out)
	if err != nil {
		return err
	}
	for _, s := range r.Subs {
		tally.others++
		if was := before[s.File]; s.Verdict != was.Verdict {
			tally.changed++
			b.tell("%s without %v: %s\n  was    %s\n  is     %s\n", filepath.Base(dir), share, s.File, judged(was), judged(s))
		}
	}
	return nil
}

func (b *bench) secondPass(ctx context.Context, dir string, before map[string]*night.Sub) error {
	culled := map[string]bool{}
	for file, s := range before {
		if s.Verdict == subs.Cull {
			culled[file] = true
		}
	}
	if len(culled) == 0 || len(culled) == len(before) {
		return nil
	}
	r, err := b.without(ctx, dir, culled)
	if err != nil {
		return err
	}
	for _, s := range r.Subs {
		if s.Verdict == subs.Cull {
			b.second++
			b.tell("%s, second pass: %s\n  was    %s\n  is     %s\n", filepath.Base(dir), s.File, judged(before[s.File]), judged(s))
		}
	}
	return nil
}

func (b *bench) tell(format string, args ...any) {
	if b.wrong {
		fmt.Printf(format, args...)
	}
}

// without judges a night less some files, through links to the others.
func (b *bench) without(ctx context.Context, dir string, out map[string]bool) (*night.Result, error) {
	part := dir + ".part"
	defer os.RemoveAll(part)
	if err := os.RemoveAll(part); err != nil { // of a run that was ended
		return nil, err
	}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if err != nil || out[filepath.ToSlash(name)] {
			return err
		}
		to := filepath.Join(part, name)
		if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
			return err
		}
		return os.Link(path, to)
	})
	if err != nil {
		return nil, err
	}
	return b.judge(ctx, part)
}
