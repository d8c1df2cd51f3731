package report

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"fitsqa/internal/night"
)

// tab is an opened report and what the browser had to say about it.
type tab struct {
	context.Context
	t        *testing.T
	mu       sync.Mutex
	messages []string // console messages, exceptions, policy violations
	requests []string // that left the page
}

// browser is the program that opens the page; the test is skipped where there
// is none.
func browser(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium here: the page is not tested in a browser")
	}
	return path
}

// openPage opens r's page in a real browser, w x h CSS pixels.
func openPage(t *testing.T, r *night.Result, w, h int64) *tab {
	t.Helper()
	program := browser(t)
	path := filepath.Join(t.TempDir(), "report.html")
	var b bytes.Buffer
	if err := HTML(&b, r); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return openFile(t, program, path, w, h)
}

func openFile(t *testing.T, program, path string, w, h int64) *tab {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.UserDataDir(t.TempDir()),
	)
	alloc, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil { // a time limit set before this would stop the browser
		t.Fatal(err)
	}
	ctx, cancelLate := context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(cancelLate)

	p := &tab{Context: ctx, t: t}
	if err := chromedp.Listen(ctx, p.listen); err != nil {
		t.Fatal(err)
	}
	for _, enable := range []cdp.Command[cdp.Empty, cdp.Empty]{runtime.Enable, log.Enable} {
		call(p, enable, cdp.Empty{})
	}
	call(p, network.Enable, network.EnableParams{})
	call(p, performance.Enable, performance.EnableParams{TimeDomain: performance.EnableTimeDomainThreadTicks})
	p.do(chromedp.EmulateViewport(w, h),
		chromedp.Navigate("file://"+path),
		chromedp.WaitReady(chromedp.CSS(`html[data-ready="yes"]`)))
	p.run(`document.documentElement.style.scrollBehavior = "auto"`) // places must not move while they are read
	return p
}

func (p *tab) listen(event any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventConsoleAPICalled:
		for _, a := range e.Args {
			p.messages = append(p.messages, string(a.Value))
		}
	case *runtime.EventExceptionThrown:
		p.messages = append(p.messages, fmt.Sprintf("%+v", e.ExceptionDetails))
	case *log.EventEntryAdded:
		p.messages = append(p.messages, e.Entry.Text)
	case *network.EventRequestWillBeSent:
		url := e.Request.URL
		if !strings.HasPrefix(url, "file://") && !strings.HasPrefix(url, "data:") && !strings.HasPrefix(url, "blob:") {
			p.requests = append(p.requests, url)
		}
	}
}

// call runs a command of the browser's protocol.
func call[P, R any](p *tab, command cdp.Command[P, R], params P) R {
	p.t.Helper()
	result, err := chromedp.Call(p, command, params)
	if err != nil {
		p.t.Fatal(err)
	}
	return result
}

// do runs browser actions and fails the test with the first that fails.
func (p *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p, actions...); err != nil {
		p.t.Fatal(err)
	}
}

// click clicks an element by its selector, once it can be seen.
func (p *tab) click(selector string) {
	p.t.Helper()
	p.do(chromedp.Click(chromedp.CSS(selector)))
}

// press sends keys, each as it is typed.
func (p *tab) press(keys ...string) {
	p.t.Helper()
	for _, key := range keys {
		p.do(chromedp.KeyEvent(key))
	}
}

// run runs a statement in the page.
func (p *tab) run(script string) {
	p.t.Helper()
	p.do(chromedp.Evaluate[chromedp.Void](script))
}

// value is what a script expression gives, or what its promise brings.
func value[T any](p *tab, expression string) T {
	p.t.Helper()
	v, err := chromedp.Run(p, chromedp.Evaluate[T](expression, func(e *runtime.EvaluateParams) { e.AwaitPromise = new(true) }))
	if err != nil {
		p.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// expect fails unless a script expression gives want, at once or within the
// second that rendering may take.
func expect[T comparable](p *tab, expression string, want T) {
	p.t.Helper()
	var got T
	for range 20 {
		if got = value[T](p, expression); got == want {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	p.t.Errorf("%s is %v, want %v", expression, got, want)
}

// quiet fails if the browser complained or fetched anything.
func (p *tab) quiet() {
	p.t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.messages) > 0 {
		p.t.Errorf("the browser says %q", p.messages)
	}
	if len(p.requests) > 0 {
		p.t.Errorf("the page fetched %q", p.requests)
	}
}
