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
	"fitsqa/internal/say"
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
	for seed := range tries {
		if err := b.tryStability(ctx, dir, full, uint64(seed)); err != nil {
			return err
		}
	}
	fmt.Printf("without a tenth  %s change\nwithout half     %s change\nsecond pass      culls %d more\n", b.tenth, b.half, b.second)
	return nil
}

// tryStability judges the night again without some of its subs.
func (b *bench) tryStability(ctx context.Context, dir string, full *night.Result, seed uint64) error {
	before := map[string]subs.Verdict{}
	for _, s := range full.Subs {
		before[s.File] = s.Verdict
	}
	rng := rand.New(rand.NewPCG(seed, uint64(len(full.Subs))))
	for _, part := range []struct {
		share float64
		tally *change
	}{{0.1, &b.tenth}, {0.5, &b.half}} {
		order := rng.Perm(len(full.Subs))
		out := map[string]bool{}
		for _, i := range order[:int(part.share*float64(len(order))+0.5)] {
			out[full.Subs[i].File] = true
		}
		r, err := b.without(ctx, dir, out)
		if err != nil {
			return err
		}
		for _, s := range r.Subs {
			part.tally.others++
			if s.Verdict != before[s.File] {
				part.tally.changed++
				b.tell("%s without %v: %s was %s, is %s %v: %s\n", filepath.Base(dir), part.share, s.File, before[s.File], s.Verdict, s.Causes, say.Sub(s.Sub))
			}
		}
	}
	culled := map[string]bool{}
	for file, v := range before {
		if v == subs.Cull {
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
			b.tell("%s, second pass: %s is culled %v: %s\n", filepath.Base(dir), s.File, s.Causes, say.Sub(s.Sub))
		}
	}
	return nil
}

// tell lists a verdict that is wrong or changes.
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
