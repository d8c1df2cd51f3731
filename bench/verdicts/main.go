// Verdicts makes nights whose truth is known, judges them, and prints how often
// the verdicts are right and how steady they are.
//
// Right: the confusion table of truth against verdict, plainly good subs that
// are culled, plainly spoiled ones that are not, and whether the leading cause
// of those culled is a true one: where several spoil a sub, each by itself, any of
// them is, since a trail and a cloud are on no common scale. Steady: with a tenth, or
// half, of a night's subs left out at random, the share of the other subs whose verdict
// changes; and what a second pass culls once the culled ones are gone.
//
// Nights drawn at random (-random) hold any troubles together, on any optics, sensor
// and field: what no night of one trouble shows, they find. Each verdict that is wrong
// is told with the truth and the figures behind it; -keep DIR keeps its frames.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"regexp"
	"time"

	"fitsqa/internal/cache"
	"fitsqa/internal/demo"
)

func main() {
	random := flag.Int("random", 0, "judge so many nights drawn at random, one for each seed from the first on, instead of those with one trouble each")
	first := flag.Int("first", 1, "seed of the first copy of every night")
	seeds := flag.Int("seeds", 3, "copies of every night")
	only := flag.String("only", "", "judge nights whose names match this expression")
	keep := flag.String("keep", "", "folder to keep frames and figures in for the next run; empty: none")
	draws := flag.Int("draws", 1, "how often subs of every night are left out at random")
	steady := flag.Bool("steady", true, "try how steady the verdicts are as well")
	wrong := flag.Bool("wrong", true, "list every verdict that is wrong or changes")
	folder := flag.String("folder", "", "try only how steady the verdicts on the real subs in this folder are, as often as there are seeds")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	var nights []seeded
	if *random > 0 {
		nights = randomNights(*first, *random)
	} else {
		nights = madeNights(*first, *seeds)
	}
	if !*steady {
		*draws = 0
	}
	if err := run(ctx, nights, *seeds, *draws, *only, *keep, *folder, *wrong); err != nil {
		fmt.Fprintln(os.Stderr, "verdicts:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, nights []seeded, tries, draws int, only, keep, folder string, wrong bool) error {
	pattern, err := regexp.Compile(only)
	if err != nil {
		return err
	}
	dir := keep
	if dir == "" {
		if dir, err = os.MkdirTemp("", "verdicts-"); err != nil {
			return err
		}
		defer os.RemoveAll(dir)
	}
	store, err := cache.Open(dir + "/figures")
	if err != nil {
		return err
	}
	began := time.Now()
	b := &bench{dir: dir, store: store, kept: keep != "", draws: draws, wrong: wrong, table: map[string]map[string]int{}}
	if folder != "" {
		return b.folder(ctx, folder, tries)
	}
	for _, n := range nights {
		if !pattern.MatchString(n.Name) {
			continue
		}
		if err := b.night(ctx, n.Scenario, n.seed); err != nil {
			return fmt.Errorf("%s, seed %d: %w", n.Name, n.seed, err)
		}
	}
	b.print(os.Stdout)
	fmt.Printf("%d nights in %.0f s\n", b.nights, time.Since(began).Seconds())
	return nil
}

// seeded is a night with the seed that tells its copies apart.
type seeded struct {
	demo.Scenario
	seed int
}

// madeNights are those with every kind of trouble, each made anew from every seed.
func madeNights(first, seeds int) []seeded {
	var list []seeded
	for seed := first; seed < first+seeds; seed++ {
		for _, sc := range demo.HardNights(uint64(seed)) {
			list = append(list, seeded{sc, seed})
		}
		for i, sc := range append(demo.Nights(), demo.Default) {
			sc.Seed = uint64(1000*seed + 500 + i)
			list = append(list, seeded{sc, seed})
		}
	}
	return list
}

func randomNights(first, count int) []seeded {
	var list []seeded
	for seed := first; seed < first+count; seed++ {
		list = append(list, seeded{demo.RandomNight(uint64(seed)), seed})
	}
	return list
}
