package review

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/decisions"
	"fitsqa/internal/subs"
)

// serveOnly names the variable of the environment that makes a process of its own of
// TestServesToBeKilled; it holds the output folder.
const serveOnly = "FITSQA_TEST_SERVE"

// TestServesToBeKilled is the server that killedWhileMarking starts and kills.
func TestServesToBeKilled(t *testing.T) {
	outdir := os.Getenv(serveOnly)
	if outdir == "" {
		t.Skip("only as a process of its own")
	}
	s, err := New(outdir)
	if err != nil {
		t.Fatal(err)
	}
	_ = s.Serve(context.Background(), func(address string) { fmt.Println("at", address) })
}

// killedWhileMarking kills servers without a warning while marks come in one after
// another: every mark that was answered holds, and one on its way is there or is not.
func killedWhileMarking(t *testing.T, outdir string) {
	last, content := "", ""
	for round := range 5 {
		process := exec.Command(os.Args[0], "-test.run", "^TestServesToBeKilled$")
		process.Env = append(os.Environ(), serveOnly+"="+outdir)
		out, err := process.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := process.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		for lines.Scan() && !strings.HasPrefix(lines.Text(), "at ") {
		}
		address := strings.TrimPrefix(lines.Text(), "at ")
		u, err := url.Parse(address)
		if err != nil || u.Host == "" {
			t.Fatalf("the server says %q", lines.Text())
		}
		killed := make(chan error, 1)
		time.AfterFunc(time.Duration(20+13*round)*time.Millisecond, func() { killed <- process.Process.Kill() })
		sent := ""
		for n := 0; ; n++ {
			sent = []string{"cull", "keep"}[n%2]
			if !mark(t, address, u.Host, sent) {
				break
			}
			last = sent
		}
		if err := <-killed; err != nil {
			t.Fatal(err)
		}
		_ = process.Wait() // says that it was killed
		kept, err := decisions.Of(outdir)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		for _, d := range kept {
			if content == "" || d.Content == content {
				content = d.Content
				if d.Verdict != subs.Verdict(last) && d.Verdict != subs.Verdict(sent) {
					t.Errorf("round %d: %q is kept, %q was answered, %q on its way", round, d.Verdict, last, sent)
				}
			}
		}
		if last != "" && len(kept) != 1 {
			t.Errorf("round %d: %d marks are kept", round, len(kept))
		}
		if len(kept) == 1 {
			last = string(kept[0].Verdict) // the one on its way may have come through
		}
	}
	if last == "" {
		t.Error("no mark was answered in any round")
	}
}

// mark sends a mark of the first sub; false when nobody answers any more.
func mark(t *testing.T, address, host, verdict string) bool {
	r, err := http.NewRequest("POST", address+"marks", strings.NewReader(`{"marks": {"0": "`+verdict+`"}}`))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Origin", "http://"+host)
	r.Header.Set("Content-Type", "application/json")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return false
	}
	defer answer.Body.Close()
	return answer.StatusCode == 200
}
