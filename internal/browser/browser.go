// Package browser opens pages in a real browser (Debian's chromium), for tests.
package browser

import (
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
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Tab is an opened report and what the browser had to say about it.
type Tab struct {
	context.Context
	t        *testing.T
	home     string // where the page came from
	mu       sync.Mutex
	messages []string // console messages, exceptions, policy violations
	requests []string // that left the page
}

// program is the program that opens the page; the test is skipped where there
// is none.
func program(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium here: the page is not tested in a browser")
	}
	return path
}

// one is the browser that all tests of a process share, each in a profile of its own.
var one struct {
	sync.Mutex
	context.Context
	stop func()
}

// running gives the browser, which the first that asks starts.
func running(t *testing.T) context.Context {
	t.Helper()
	path := program(t)
	one.Lock()
	defer one.Unlock()
	if one.Context != nil {
		return one.Context
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
	)
	alloc, stop := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(alloc)
	if err := chromedp.Do(ctx); err != nil {
		stop()
		t.Fatal(err)
	}
	one.Context, one.stop = ctx, func() { cancel(); stop() }
	return ctx
}

// Main runs the tests of a package that opens pages, and closes the browser after them.
func Main(m *testing.M) (code int) {
	code = m.Run()
	if one.stop != nil {
		one.stop()
	}
	return code
}

// Open opens an address in a real browser, w x h CSS pixels. The test is skipped
// where there is none.
func Open(t *testing.T, address string, w, h int64) *Tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(running(t), chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil { // a time limit set before this would end with the tab
		t.Fatal(err)
	}
	ctx, cancelLate := context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(cancelLate)

	p := &Tab{Context: ctx, t: t, home: address[:strings.LastIndex(address, "/")+1]}
	if err := chromedp.Listen(ctx, p.listen); err != nil {
		t.Fatal(err)
	}
	for _, enable := range []cdp.Command[cdp.Empty, cdp.Empty]{runtime.Enable, log.Enable} {
		Call(p, enable, cdp.Empty{})
	}
	Call(p, network.Enable, network.EnableParams{})
	Call(p, performance.Enable, performance.EnableParams{TimeDomain: performance.EnableTimeDomainThreadTicks})
	p.Do(chromedp.EmulateViewport(w, h),
		chromedp.Navigate(address),
		chromedp.WaitReady(chromedp.CSS(`html[data-ready="yes"]`)))
	p.Run(`document.documentElement.style.scrollBehavior = "auto"`) // places must not move while they are read
	return p
}

func (p *Tab) listen(event any) {
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
		if !strings.HasPrefix(url, p.home) && !strings.HasPrefix(url, "data:") && !strings.HasPrefix(url, "blob:") {
			p.requests = append(p.requests, url)
		}
	}
}

// Call runs a command of the browser's protocol.
func Call[P, R any](p *Tab, command cdp.Command[P, R], params P) R {
	p.t.Helper()
	result, err := chromedp.Call(p, command, params)
	if err != nil {
		p.t.Fatal(err)
	}
	return result
}

// Do runs browser actions and fails the test with the first that fails.
func (p *Tab) Do(actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p, actions...); err != nil {
		p.t.Fatal(err)
	}
}

// Click clicks an element by its selector, once it can be seen and stands still: where
// what is above it grows, it would slip away between its place being read and the click.
func (p *Tab) Click(selector string) {
	p.t.Helper()
	p.Do(chromedp.WaitVisible(chromedp.CSS(selector)))
	Await(p, fmt.Sprintf(`new Promise(done => {
		const box = document.querySelector(%q);
		box.scrollIntoView({block: "center"});
		let was = "", times = 0;
		const look = () => {
			const r = box.getBoundingClientRect(), at = [r.x, r.y, r.width, r.height].join();
			times = at === was ? times + 1 : 0;
			was = at;
			times < %d ? requestAnimationFrame(look) : done(true);
		};
		look();
	})`, selector, stillFrames), true)
	p.Do(chromedp.Click(chromedp.CSS(selector)))
}

// stillFrames is for how many frames of the display, in a row, an element stands still.
const stillFrames = 5

// Press sends keys, each as it is typed.
func (p *Tab) Press(keys ...string) {
	p.t.Helper()
	for _, key := range keys {
		p.Do(chromedp.KeyEvent(key))
	}
}

// Run runs a statement in the page.
func (p *Tab) Run(script string) {
	p.t.Helper()
	p.Do(chromedp.Evaluate[chromedp.Void](script))
}

// Value is what a script expression gives, or what its promise brings.
func Value[T any](p *Tab, expression string) T {
	p.t.Helper()
	v, err := chromedp.Run(p, chromedp.Evaluate[T](expression, func(e *runtime.EvaluateParams) { e.AwaitPromise = new(true) }))
	if err != nil {
		p.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// Expect fails unless a script expression gives want, at once or within the
// second that rendering may take.
func Expect[T comparable](p *Tab, expression string, want T) {
	p.t.Helper()
	within(p, time.Second, expression, want)
}

// Await is Expect for what a server has to work for: a busy machine may take its
// time.
func Await[T comparable](p *Tab, expression string, want T) {
	p.t.Helper()
	within(p, 30*time.Second, expression, want)
}

func within[T comparable](p *Tab, patience time.Duration, expression string, want T) {
	p.t.Helper()
	var got T
	for until := time.Now().Add(patience); time.Now().Before(until); time.Sleep(50 * time.Millisecond) {
		if got = Value[T](p, expression); got == want {
			return
		}
	}
	p.t.Errorf("%s is %v, want %v", expression, got, want)
}

// Quiet fails if the browser complained or fetched anything.
func (p *Tab) Quiet() {
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

// Shot keeps a picture of the page for a look, in the folder that the variable
// FITSQA_SHOTS of the environment names; without it, none.
func (p *Tab) Shot(name string) {
	p.t.Helper()
	dir := os.Getenv("FITSQA_SHOTS")
	if dir == "" {
		return
	}
	screenshot := Call(p, page.CaptureScreenshot, page.CaptureScreenshotParams{})
	if err := os.WriteFile(filepath.Join(dir, name+".png"), screenshot.Data, 0o644); err != nil {
		p.t.Fatal(err)
	}
}
