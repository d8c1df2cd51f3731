package review

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"fitsqa/internal/browser"
	"fitsqa/internal/cache"
	"fitsqa/internal/cull"
	"fitsqa/internal/decisions"
	"fitsqa/internal/demo"
	"fitsqa/internal/night"
	"fitsqa/internal/outdir"
	"fitsqa/internal/report"
)

// shared is where the night of all tests lies, and what was measured of it.
var shared string

func TestMain(m *testing.M) {
	if os.Getenv(serveOnly) != "" { // and is killed: a folder would be left behind
		os.Exit(m.Run())
	}
	var err error
	if shared, err = os.MkdirTemp("", "fitsqa-review"); err != nil {
		panic(err)
	}
	code := browser.Main(m)
	_ = os.RemoveAll(shared) // it is a temporary folder
	os.Exit(code)
}

// drawn is a small night, written once.
var drawn = sync.OnceValues(func() (dir string, err error) {
	sc, _ := demo.ScenarioNamed("clear")
	sc.Width, sc.Height, sc.Bias, sc.Darks, sc.FlatLevels, sc.Streaks = 700, 520, 0, nil, nil, nil
	sc.Blocks = []demo.Block{{Filter: "L", Exposure: 60, Subs: 5}, {Filter: "Ha", Exposure: 180, Subs: 2}}
	dir = filepath.Join(shared, "night")
	_, err = demo.Write(context.Background(), dir, sc, nil)
	return dir, err
})

// makeNight gives a copy of the night and what check makes of it.
func makeNight(t *testing.T) (outdir string) {
	t.Helper()
	night, err := drawn()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "night"), os.DirFS(night)); err != nil {
		t.Fatal(err)
	}
	return check(t, dir)
}

// check measures dir/night into dir/out, what is known of it apart.
func check(t *testing.T, dir string) (outdir string) {
	t.Helper()
	s := night.DefaultSettings()
	var err error
	if s.Cache, err = cache.Open(filepath.Join(shared, "cache")); err != nil {
		t.Fatal(err)
	}
	r, err := night.Run(t.Context(), []string{filepath.Join(dir, "night")}, s, nil)
	if err != nil {
		t.Fatal(err)
	}
	outdir = filepath.Join(dir, "out")
	if err := report.WriteAll(t.Context(), outdir, r); err != nil {
		t.Fatal(err)
	}
	return outdir
}

// served is a running review.
type served struct {
	*Server
	t    *testing.T
	url  string // with the token and a slash at the end
	host string
	stop func() // ends it and waits until it has
}

func serve(t *testing.T, outdir string) *served {
	t.Helper()
	s, err := New(outdir)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan string), make(chan error, 1)
	go func() { ended <- s.Serve(ctx, func(address string) { ready <- address }) }()
	address := <-ready
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	out := &served{Server: s, t: t, url: address, host: u.Host}
	out.stop = func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		ended <- nil
	}
	t.Cleanup(out.stop)
	return out
}

// ask sends a request as the page does, changed by change.
func (s *served) ask(method, path, body string, change func(*http.Request)) (code int, text string) {
	s.t.Helper()
	r, err := http.NewRequest(method, s.url+path, strings.NewReader(body))
	if err != nil {
		s.t.Fatal(err)
	}
	if method == http.MethodPost {
		r.Header.Set("Origin", "http://"+s.host)
		r.Header.Set("Content-Type", "application/json")
	}
	if change != nil {
		change(r)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	b, err := io.ReadAll(answer.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return answer.StatusCode, string(b)
}

func (s *served) want(method, path, body string, code int, says string) string {
	s.t.Helper()
	got, text := s.ask(method, path, body, nil)
	if got != code || !strings.Contains(text, says) {
		s.t.Errorf("%s %s: %d %.300s, want %d and %q", method, path, got, text, code, says)
	}
	return text
}

const anyTile = "frame/0/tile/0/0/0?black=500&white=9000&mid=0.1"

// Another origin, another host, another token, no token, another way to ask and
// paths that are none are refused, in words.
func TestRefusesStrangers(t *testing.T) {
	t.Parallel()
	s := serve(t, makeNight(t))
	if !strings.HasPrefix(s.host, "127.0.0.1:") || len(s.token) != 32 {
		t.Errorf("served at %s with token %q", s.host, s.token)
	}
	if other, err := New(s.book.outdir); err != nil || other.token == s.token {
		t.Errorf("a second review has the same token, %v", err)
	}
	const mark = `{"marks": {"0": "cull"}}`
	sound, changed := shelve(t, s.book.outdir, "\xff\xd8"), shelve(t, s.book.outdir, "\xff\xd9")
	if err := os.WriteFile(filepath.Join(s.book.outdir, outdir.PicturesDir, changed), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		method, path, body string
		change             func(*http.Request)
		code               int
		says               string
	}{
		"no token":            {"GET", "", "", func(r *http.Request) { r.URL.Path = "/state" }, 403, "lacks its token"},
		"other token":         {"GET", "", "", func(r *http.Request) { r.URL.Path = "/" + strings.Repeat("0", 32) + "/state" }, 403, "lacks its token"},
		"the bare host":       {"GET", "", "", func(r *http.Request) { r.URL.Path = "/" }, 403, "lacks its token"},
		"a name for the host": {"GET", "state", "", func(r *http.Request) { r.Host = "evil.example:" + strings.Split(s.host, ":")[1] }, 403, "only"},
		"another local page":  {"GET", "state", "", func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:1") }, 403, "another page"},
		"a page of no origin": {"GET", "state", "", func(r *http.Request) { r.Header.Set("Origin", "null") }, 403, "another page"},
		"an image elsewhere":  {"GET", anyTile, "", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") }, 403, "another page"},
		"a form elsewhere":    {"POST", "marks", mark, func(r *http.Request) { r.Header.Set("Content-Type", "text/plain") }, 403, "not asked by the page"},
		"no origin at all":    {"POST", "marks", mark, func(r *http.Request) { r.Header.Del("Origin") }, 403, "not asked by the page"},
		"above the folder":    {"GET", "", "", func(r *http.Request) { r.URL.Opaque = "//" + s.host + "/" + s.token + "/../../etc/passwd" }, 404, "nothing here"},
		"above, encoded":      {"GET", "", "", func(r *http.Request) { r.URL.Opaque = "//" + s.host + "/" + s.token + "/..%2f..%2fetc%2fpasswd" }, 404, "nothing here"},
		"a frame by its path": {"GET", "frame/..%2f..%2fnight%2fx.fits", "", nil, 404, "nothing here"},
		"a file of OUTDIR":    {"GET", "night.json", "", nil, 404, "nothing here"},
		"the night's list":    {"GET", "pictures/night.json", "", nil, 404, "nothing here"},
		"above the pictures":  {"GET", "pictures/..%2fnight.json", "", nil, 404, "nothing here"},
		"a changed picture":   {"GET", "pictures/" + changed, "", nil, 404, "changed"},
		"a picture elsewhere": {"GET", "pictures/" + outdir.PictureName(nil), "", nil, 404, "gone"},
		"no such frame":       {"GET", "frame/7", "", nil, 404, "no frame"},
		"a frame by its name": {"GET", "frame/x.fits", "", nil, 404, "no frame"},
		"a negative frame":    {"GET", "frame/-1", "", nil, 404, "no frame"},
		"no such tile":        {"GET", "frame/0/tile/0/9/9?black=0&white=1&mid=0.5", "", nil, 404, "no such tile"},
		"a stretch of none":   {"GET", "frame/0/tile/0/0/0?black=NaN&white=1&mid=0.5", "", nil, 400, "no such tile"},
		"a mark of no kind":   {"POST", "marks", `{"marks": {"0": "burn"}}`, nil, 400, "a mark is"},
		"a mark on no sub":    {"POST", "marks", `{"marks": {"7": "cull"}}`, nil, 400, "a mark is"},
		"no marks":            {"POST", "marks", `[`, nil, 400, "not understood"},
		"a take of no kind":   {"POST", "plan", `{"take": "all"}`, nil, 400, "want"},
	} {
		code, text := s.ask(c.method, c.path, c.body, c.change)
		var told struct{ Error string }
		if err := json.Unmarshal([]byte(text), &told); err != nil || code != c.code || !strings.Contains(told.Error, c.says) {
			t.Errorf("%s: %d %.200q, want %d and %q", name, code, text, c.code, c.says)
		}
	}
	if _, err := os.Stat(filepath.Join(s.book.outdir, decisions.FileName)); err == nil {
		t.Error("a refused request left a mark")
	}
	s.want("GET", "state", "", 200, `"marks":{}`)
	s.want("GET", anyTile, "", 200, "\x89PNG")
	s.want("GET", "pictures/"+sound, "", 200, "\xff\xd8")
}

// shelve puts a picture beside the page.
func shelve(t *testing.T, dir, jpg string) (name string) {
	t.Helper()
	name = outdir.PictureName([]byte(jpg))
	path := filepath.Join(dir, outdir.PicturesDir, name)
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o777), os.WriteFile(path, []byte(jpg), 0o644)); err != nil {
		t.Fatal(err)
	}
	return name
}

// A file that changed or vanished is refused in words: its picture, its mark and
// its move. One that was moved aside is still shown.
func TestRefusesChangedAndVanishedFiles(t *testing.T) {
	t.Parallel()
	s := serve(t, makeNight(t))
	s.want("GET", anyTile, "", 200, "") // it is in memory now
	path := s.night.subs[0].Path
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, append(text, 0), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(s.night.subs[1].Path); err != nil {
		t.Fatal(err)
	}
	s.want("GET", anyTile, "", 409, "changed since the analysis")
	s.want("GET", "frame/0", "", 409, "changed since the analysis")
	s.want("GET", "frame/1", "", 410, "not there any more")
	s.want("POST", "marks", `{"marks": {"0": "cull", "1": "cull", "2": "cull"}}`, 200, `"0":"the file changed since the analysis`)
	if c := s.book.all(); len(c.Marks) != 1 || c.Marks[2] != "cull" {
		t.Errorf("marks %v", c.Marks)
	}
	var plan planView
	if err := json.Unmarshal([]byte(s.want("POST", "plan", `{"take": "own"}`, 200, "")), &plan); err != nil || len(plan.Moves) != 1 {
		t.Fatalf("%v %+v", err, plan)
	}
	s.want("POST", "move", `{"take": "own", "digest": "another"}`, 409, "list changed")
	s.want("POST", "move", `{"take": "own", "digest": "`+plan.Digest+`"}`, 200, `"moved":1`)
	aside := filepath.Join(filepath.Dir(s.night.subs[2].Path), cull.Folder, filepath.Base(s.night.subs[2].Path))
	if _, err := os.Stat(aside); err != nil {
		t.Error(err)
	}
	s.want("GET", "frame/2", "", 200, `"moved":true`)
	s.want("POST", "undo", `{}`, 200, `"moved":1`)
	s.want("POST", "undo", `{}`, 409, "nothing was moved")
	s.want("GET", "frame/2", "", 200, `"moved":false`)
}

// Marks are on disk when the answer comes, hold for the next review and the next
// cull, and every other open page is told of them.
func TestMarksAreKept(t *testing.T) {
	t.Parallel()
	outdir := makeNight(t)
	killedWhileMarking(t, outdir)
	if err := decisions.Save(outdir, nil); err != nil {
		t.Fatal(err)
	}
	s := serve(t, outdir)
	changes, stop := s.book.listen()
	s.want("POST", "marks", `{"marks": {"3": "cull", "4": "keep"}}`, 200, `{"refused":{}}`)
	kept, err := decisions.Of(outdir)
	if err != nil || len(kept) != 2 || kept[0].Content == "" {
		t.Fatalf("%v %v", kept, err)
	}
	if c := <-changes; c.Marks[3] != "cull" || c.Marks[4] != "keep" || c.Version != 1 {
		t.Errorf("told %+v", c)
	}
	stop()
	s.want("POST", "marks", `{"marks": {"4": ""}}`, 200, "")
	keepList, err := os.ReadFile(filepath.Join(outdir, "keep", "L.txt"))
	if err != nil || strings.Count(string(keepList), "\n") != 4 || !bytes.Contains(keepList, []byte(s.night.subs[4].Path)) {
		t.Errorf("%v: keep list\n%s", err, keepList)
	}
	if bytes.Contains(keepList, []byte(s.night.subs[3].Path+"\n")) {
		t.Error("a culled sub is in the list of what stays")
	}
	s.stop()

	again := serve(t, outdir)
	if c := again.book.all(); len(c.Marks) != 1 || c.Marks[3] != "cull" {
		t.Errorf("the next review has %v", c.Marks)
	}
	// Another check into the folder, after the file got another name.
	old := again.night.subs[3].Path
	if err := os.Rename(old, filepath.Join(filepath.Dir(old), "zzz.fits")); err != nil {
		t.Fatal(err)
	}
	check(t, filepath.Dir(outdir))
	third := serve(t, outdir)
	marked := slices.IndexFunc(third.book.files(), func(f cull.Sub) bool { return f.Decision == "cull" })
	if marked < 0 || filepath.Base(third.night.subs[marked].Path) != "zzz.fits" {
		t.Errorf("after another check, sub %d is marked", marked)
	}
}

// A page of another run is not served beside this night's frames.
func TestRefusesPageOfAnotherRun(t *testing.T) {
	t.Parallel()
	outdir := makeNight(t)
	text, err := os.ReadFile(filepath.Join(outdir, "night.json"))
	if err != nil {
		t.Fatal(err)
	}
	swapped := strings.Replace(string(text), `"measured_verdict": "keep"`, `"measured_verdict": "doubtful"`, 1)
	if swapped == string(text) {
		t.Fatal("nothing to swap")
	}
	if err := os.WriteFile(filepath.Join(outdir, "night.json"), []byte(swapped), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := New(outdir); err == nil || !strings.Contains(err.Error(), "not of the") {
		t.Errorf("%v", err)
	}
	if _, err := New(t.TempDir()); err == nil {
		t.Error("an empty folder is served")
	}
}
