// Command cores tells by a model how much faster a run is on many cores than on one.
//
//	taskset -c 0 env GOMAXPROCS=16 go run ./bench/cores DIR
//
// It runs a check of the frames below DIR with as many workers as GOMAXPROCS, on one
// core, and notes how many goroutines could go on at each moment. Where n could, k cores
// would have taken 1/min(n, k) of the time. What the model leaves out: cores that wait for
// each other's memory, and the collector, which is switched off.
//
// The frames of bench/run.sh are meant; DIR is only read, reports go into a folder that
// is removed.
package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"log"
	"math"
	"os"
	"os/exec"
	"regexp"
	"runtime"
	"runtime/debug"
	"runtime/trace"
	"strconv"
	"strings"
	"time"

	"fitsqa/internal/night"
	"fitsqa/internal/report"
)

func main() {
	log.SetFlags(0)
	if len(os.Args) != 2 {
		log.Fatal("usage: cores DIR")
	}
	dir, err := os.MkdirTemp("", "cores-")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	stages, err := traced(os.Args[1], dir)
	if err != nil {
		log.Fatal(err)
	}
	if err := tell(dir+"/trace", stages); err != nil {
		log.Fatal(err)
	}
}

// traced runs a check and writes dir/trace.
func traced(frames, dir string) (stages []stage, err error) {
	debug.SetGCPercent(-1)
	f, err := os.Create(dir + "/trace")
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if err := trace.Start(f); err != nil {
		return nil, err
	}
	defer trace.Stop()
	begin := time.Now()
	s := night.DefaultSettings()
	s.Workers, s.MemoryMiB = runtime.GOMAXPROCS(0), 1_000_000
	r, err := night.Run(context.Background(), []string{frames}, s, func(name string, done, _ int) {
		if n := len(stages); n == 0 || stages[n-1].name != name {
			stages = append(stages, stage{name: name})
		}
		stages[len(stages)-1].end = time.Since(begin)
	})
	if err != nil {
		return nil, err
	}
	stages = append(stages, stage{"what follows", time.Since(begin)})
	err = report.WriteAll(context.Background(), dir+"/reports", r)
	return append(stages, stage{"reports", time.Since(begin)}), err
}

type stage struct {
	name string
	end  time.Duration
}

// change is a line of a trace: one goroutine's state.
var change = regexp.MustCompile(`StateTransition Time=(\d+) GoID=(\d+) (\w+)->(\w+)`)

func tell(file string, stages []stage) error {
	cmd := exec.Command("go", "tool", "trace", "-d=parsed", file)
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	p := profileOf(out, stages)
	if err := cmd.Wait(); err != nil {
		return err
	}
	for _, cores := range []int{2, 4, 8, 16} {
		fmt.Printf("%2d cores: %.2f times as fast\n", cores, p.on(1)/p.on(cores))
	}
	all := p.on(math.MaxInt)
	for i, s := range stages {
		fmt.Printf("%-32s %5.1f %% of the work, %4.1f %% by one goroutine alone\n", s.name, 100*sum(p[i])/p.on(1), 100*p[i][1]/p.on(1))
	}
	fmt.Printf("at most %.1f times as fast on any number of cores\n", p.on(1)/all)
	return nil
}

// profile is, by stage, for how long so many goroutines could go on, ns.
type profile []map[int]float64

// profileOf follows the goroutines of a trace, those left out that were there before it
// but for the first.
func profileOf(in io.Reader, stages []stage) profile {
	p := make(profile, len(stages))
	for i := range p {
		p[i] = map[int]float64{}
	}
	ready := map[string]bool{"1": true}
	var begin, last int64
	at := 0
	lines := bufio.NewScanner(in)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		m := change.FindStringSubmatch(lines.Text())
		if m == nil {
			continue
		}
		now, _ := strconv.ParseInt(m[1], 10, 64) // digits, by the pattern
		if begin == 0 {
			begin, last = now, now
		}
		for at+1 < len(stages) && time.Duration(now-begin) > stages[at].end {
			at++
		}
		p[at][len(ready)] += float64(now - last)
		last = now
		switch goroutine, before, after := m[2], m[3], m[4]; {
		case before == "Undetermined":
		case strings.Contains("Running Runnable Syscall", after):
			ready[goroutine] = true
		default:
			delete(ready, goroutine)
		}
	}
	return p
}

// on is the time of the run on so many cores.
func (p profile) on(cores int) (t float64) {
	for _, stage := range p {
		for n, ns := range stage {
			if n > 0 { // else all wait for the disk
				t += ns / float64(min(n, cores))
			}
		}
	}
	return t
}

func sum(stage map[int]float64) (t float64) {
	for n, ns := range stage {
		if n > 0 {
			t += ns
		}
	}
	return t
}
