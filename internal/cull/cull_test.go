package cull

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// shot is when the test frames were written: to the nanosecond, which a plan
// has to compare.
var shot = time.Date(2026, 3, 14, 22, 14, 5, 123456789, time.UTC)

// oddNames are names that files may have: any byte but the slash and zero.
var oddNames = []string{
	"M 33_Ha_300s_0001.fits", "Größe °C 夜.fits", "two\nlines.fits", "quote\"back\\slash.fits", " leading and trailing ",
	"latin-1 \xfc.fits", strings.Repeat("long", 62) + ".fits", "-rf.fits", "culled", ".hidden.fits",
}

// makeFrame writes a small file that holds its own name, and gives its entry.
func makeFrame(t *testing.T, path, verdict string) Sub {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(path), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Chtimes(path, shot, shot); err != nil {
		t.Fatal(err)
	}
	return Sub{Path: path, Size: int64(len(path)), Modified: shot, Verdict: verdict, Sentence: "transparency 0.31 of clear; limit 0.6"}
}

// makeNight is culled frames in two folders, good ones between them, and an
// output folder.
func makeNight(t *testing.T, names []string) (out string, subs []Sub) {
	t.Helper()
	root := t.TempDir()
	out = filepath.Join(root, "out")
	if err := os.Mkdir(out, 0o777); err != nil {
		t.Fatal(err)
	}
	for i, n := range names {
		folder := filepath.Join(root, "night", fmt.Sprintf("lights %d", i%2))
		if n == Folder { // a file of the folder's name, in a place of its own
			folder = filepath.Join(root, "night", "odd")
		}
		subs = append(subs, makeFrame(t, filepath.Join(folder, n), "cull"))
		subs = append(subs, makeFrame(t, filepath.Join(folder, "good "+fmt.Sprint(i)), "keep"))
	}
	return out, subs
}

// wantPlaces checks that every frame is there once, whole, under one of its two
// names, and how many are aside.
func wantPlaces(t *testing.T, subs []Sub, aside int) {
	t.Helper()
	n := 0
	for _, s := range subs {
		to := filepath.Join(filepath.Dir(s.Path), Folder, filepath.Base(s.Path))
		here, hereErr := os.ReadFile(s.Path)
		there, thereErr := os.ReadFile(to)
		switch {
		case hereErr == nil && thereErr == nil:
			t.Errorf("%q is at both places", s.Path)
		case hereErr == nil && string(here) != s.Path, thereErr == nil && string(there) != s.Path:
			t.Errorf("%q has other content", s.Path)
		case hereErr != nil && thereErr != nil:
			t.Errorf("%q is lost", s.Path)
		case thereErr == nil && s.Verdict == "keep":
			t.Errorf("%q was to be kept and is aside", s.Path)
		case thereErr == nil:
			n++
		}
	}
	if n != aside {
		t.Errorf("%d frames are aside, want %d", n, aside)
	}
}

func TestApplyAndUndo(t *testing.T) {
	names := make([]string, 0, len(oddNames))
	for _, n := range oddNames {
		if n != Folder { // a file of this name blocks the folder: TestPlanRefuses
			names = append(names, n)
		}
	}
	out, subs := makeNight(t, names)
	w := Worker{OutDir: out}
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	if err != nil || len(plan.Refused) > 0 || len(plan.Moves) != len(names) {
		t.Fatalf("plan: %v, %+v", err, plan)
	}
	wantPlaces(t, subs, 0) // a plan changes nothing
	done, err := w.Apply(context.Background(), plan)
	if err != nil || len(done.Refused) > 0 {
		t.Fatalf("apply: %v, %+v", err, done.Refused)
	}
	wantPlaces(t, subs, len(names))

	again, err := NewPlan(subs, Selection{Take: TakeCull})
	if err != nil || len(again.Moves) != 0 || len(again.Refused) != 0 || again.Aside != len(names) {
		t.Errorf("a second plan: %v, %+v", err, again)
	}
	changed := slices.Clone(subs)
	changed[0].Size++
	if again, err := NewPlan(changed, Selection{Take: TakeCull}); err != nil || len(again.Refused) != 1 || again.Aside != len(names)-1 {
		t.Errorf("a second plan, one file there being another: %v, %+v", err, again)
	}

	back, err := w.Undo(context.Background())
	if err != nil || len(back.Refused) > 0 || len(back.Moved) != len(names) {
		t.Fatalf("undo: %v, %+v", err, back)
	}
	wantPlaces(t, subs, 0)
	for _, s := range subs {
		info, err := os.Stat(s.Path)
		if err != nil || !info.ModTime().Equal(shot) {
			t.Errorf("%q: time %v, %v", s.Path, info.ModTime(), err)
		}
		if _, err := os.Stat(filepath.Join(filepath.Dir(s.Path), Folder)); !os.IsNotExist(err) {
			t.Errorf("an empty folder is left beside %q", s.Path)
		}
	}
	if _, err := w.Undo(context.Background()); !errors.Is(err, ErrNoJournal) {
		t.Errorf("a second undo: %v", err)
	}
}

func TestPlanRefuses(t *testing.T) {
	for _, c := range []struct {
		name, reason string
		spoil        func(t *testing.T, s *Sub)
	}{
		{"longer", "changed since the analysis: ", func(t *testing.T, s *Sub) { s.Size-- }},
		{"written again", "changed since the analysis: written 2026-03-14 22:14:05 UTC", func(t *testing.T, s *Sub) { s.Modified = s.Modified.Add(time.Nanosecond) }},
		{"gone", "is not there any more", func(t *testing.T, s *Sub) { must(t, os.Remove(s.Path)) }},
		{"link", "is a symbolic link", func(t *testing.T, s *Sub) {
			must(t, os.Rename(s.Path, s.Path+".real"))
			must(t, os.Symlink(s.Path+".real", s.Path))
		}},
		{"folder", "is not a regular file", func(t *testing.T, s *Sub) {
			must(t, os.Remove(s.Path))
			must(t, os.Mkdir(s.Path, 0o777))
		}},
		{"name taken", "culled holds a file of this name already", func(t *testing.T, s *Sub) {
			makeFrame(t, filepath.Join(filepath.Dir(s.Path), Folder, filepath.Base(s.Path)), "")
		}},
		{"name taken by a dangling link", "culled holds a file of this name already", func(t *testing.T, s *Sub) {
			folder := filepath.Join(filepath.Dir(s.Path), Folder)
			must(t, os.Mkdir(folder, 0o777))
			must(t, os.Symlink("nowhere", filepath.Join(folder, filepath.Base(s.Path))))
		}},
		{"a file called culled", "culled beside it is not a folder", func(t *testing.T, s *Sub) {
			makeFrame(t, filepath.Join(filepath.Dir(s.Path), Folder), "")
		}},
		{"culled is a link", "culled beside it is not a folder", func(t *testing.T, s *Sub) {
			must(t, os.Symlink(t.TempDir(), filepath.Join(filepath.Dir(s.Path), Folder)))
		}},
		{"in a culled folder", "is in a folder culled already", func(t *testing.T, s *Sub) {
			*s = makeFrame(t, filepath.Join(filepath.Dir(s.Path), Folder, "b.fits"), "cull")
		}},
		{"relative", "does not tell where it is", func(t *testing.T, s *Sub) { s.Path = "lights/a.fits" }},
		{"zero byte", "does not tell where it is", func(t *testing.T, s *Sub) { s.Path += "\x00" }},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := makeFrame(t, filepath.Join(t.TempDir(), "lights", "a.fits"), "cull")
			if p, err := NewPlan([]Sub{s}, Selection{Take: TakeCull}); err != nil || len(p.Moves) != 1 {
				t.Fatalf("unspoiled: %v %+v", err, p)
			}
			c.spoil(t, &s)
			p, err := NewPlan([]Sub{s}, Selection{Take: TakeCull})
			if err != nil || len(p.Moves) != 0 || len(p.Refused) != 1 || !strings.HasPrefix(p.Refused[0].Reason, c.reason) && !strings.Contains(p.Refused[0].Reason, c.reason) {
				t.Errorf("%v %+v, want refusal %q", err, p, c.reason)
			}
		})
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestChoice(t *testing.T) {
	root := t.TempDir()
	subs := []Sub{makeFrame(t, filepath.Join(root, "a"), "cull"), makeFrame(t, filepath.Join(root, "b"), "doubtful"), makeFrame(t, filepath.Join(root, "c"), "keep")}
	subs = append(subs, subs[0]) // the same file, seen through two folders
	for take, want := range map[Choice]int{TakeCull: 1, TakeDoubtful: 2} {
		if p, err := NewPlan(subs, Selection{Take: take}); err != nil || len(p.Moves) != want {
			t.Errorf("%s: %v, %d moves, want %d", take, err, len(p.Moves), want)
		}
	}
	if _, err := NewPlan(subs, Selection{Take: "keep"}); !errors.Is(err, ErrChoice) {
		t.Errorf("take keep: %v", err)
	}
}

// What changes between plan and move is seen at the move.
func TestApplyChecksAgain(t *testing.T) {
	out, subs := makeNight(t, []string{"a", "b", "c"})
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	must(t, err)
	must(t, os.Chtimes(plan.Moves[1].Path, shot, shot.Add(time.Second)))
	blocker := plan.Moves[2].To
	w := Worker{OutDir: out, pause: func(step string) error {
		if step == "move "+plan.Moves[2].Path { // the name is taken at the last moment
			return os.WriteFile(blocker, []byte("mine"), 0o666)
		}
		return nil
	}}
	done, err := w.Apply(context.Background(), plan)
	if err != nil || len(done.Moved) != 1 || len(done.Refused) != 2 {
		t.Fatalf("%v %+v", err, done)
	}
	if text, _ := os.ReadFile(blocker); string(text) != "mine" {
		t.Errorf("the blocking file now holds %q", text)
	}
	must(t, os.Remove(blocker))
	wantPlaces(t, subs, 1)
}

// A hard link elsewhere keeps its name and content.
func TestHardLink(t *testing.T) {
	out, subs := makeNight(t, []string{"a"})
	other := filepath.Join(filepath.Dir(out), "other name")
	must(t, os.Link(subs[0].Path, other))
	w := Worker{OutDir: out}
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	must(t, err)
	if done, err := w.Apply(context.Background(), plan); err != nil || len(done.Moved) != 1 {
		t.Fatalf("%v %+v", err, done)
	}
	wantPlaces(t, subs, 1)
	if text, err := os.ReadFile(other); err != nil || string(text) != subs[0].Path {
		t.Errorf("other link: %v %q", err, text)
	}
}

// A second cull from the same folder keeps the first one's way back.
func TestJournalsAddUp(t *testing.T) {
	out, subs := makeNight(t, []string{"a", "b"})
	w := Worker{OutDir: out}
	for _, part := range [][]Sub{subs[:2], subs[2:]} {
		plan, err := NewPlan(part, Selection{Take: TakeCull})
		must(t, err)
		if _, err := w.Apply(context.Background(), plan); err != nil {
			t.Fatal(err)
		}
	}
	wantPlaces(t, subs, 2)
	if back, err := w.Undo(context.Background()); err != nil || len(back.Moved) != 2 {
		t.Errorf("%v %+v", err, back)
	}
	wantPlaces(t, subs, 0)
}

// Undo leaves alone what it cannot put back safely, says so, and can be called
// again.
func TestUndoConflict(t *testing.T) {
	out, subs := makeNight(t, []string{"a", "b"})
	w := Worker{OutDir: out}
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	must(t, err)
	_, err = w.Apply(context.Background(), plan)
	must(t, err)
	must(t, os.WriteFile(subs[0].Path, []byte("a new frame"), 0o666))
	back, err := w.Undo(context.Background())
	if err != nil || len(back.Moved) != 1 || len(back.Refused) != 1 || back.Refused[0].Reason != "another file has its old name by now" {
		t.Fatalf("%v %+v", err, back)
	}
	if text, _ := os.ReadFile(subs[0].Path); string(text) != "a new frame" {
		t.Errorf("the new frame now holds %q", text)
	}
	must(t, os.Remove(subs[0].Path))
	if back, err := w.Undo(context.Background()); err != nil || len(back.Moved) != 1 {
		t.Errorf("%v %+v", err, back)
	}
	wantPlaces(t, subs, 0)
}

// The user's own verdict wins; causes and filters narrow what is taken.
func TestSelection(t *testing.T) {
	night := []Sub{
		{Filter: "Ha", Verdict: "cull", Causes: []string{"cloud", "bright_sky"}},
		{Filter: "L", Verdict: "cull", Causes: []string{"trailed"}},
		{Filter: "L", Verdict: "doubtful", Causes: []string{"soft"}},
		{Filter: "L", Verdict: "keep", Decision: "cull"},
		{Filter: "Ha", Verdict: "cull", Causes: []string{"cloud"}, Decision: "keep"},
		{Filter: "Ha", Verdict: "cull", Causes: []string{"cloud"}, Decision: "cull"},
	}
	for _, c := range []struct {
		sel  Selection
		want []int
	}{
		{Selection{Take: TakeCull}, []int{0, 1, 3, 5}},
		{Selection{Take: TakeDoubtful}, []int{0, 1, 2, 3, 5}},
		{Selection{Take: TakeOwn}, []int{3, 5}},
		{Selection{Take: TakeCull, Causes: []string{"bright sky", "soft"}}, []int{0}},
		{Selection{Take: TakeDoubtful, Causes: []string{"Soft", "trailed"}}, []int{1, 2}},
		{Selection{Take: TakeCull, Filters: []string{"ha "}}, []int{0, 5}},
		{Selection{Take: TakeOwn, Filters: []string{"L"}, Causes: []string{"cloud"}}, nil},
	} {
		var got []int
		for i, s := range night {
			if c.sel.takes(s) {
				got = append(got, i)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%+v takes %v, want %v", c.sel, got, c.want)
		}
	}
}

// What was not judged is moved only where its cause is named.
func TestNotJudgedStays(t *testing.T) {
	s := makeFrame(t, filepath.Join(t.TempDir(), "a"), notJudged)
	s.Causes = []string{"unreadable"}
	for _, c := range []struct {
		sel  Selection
		want int
	}{
		{Selection{Take: TakeCull}, 0}, {Selection{Take: TakeDoubtful}, 0},
		{Selection{Take: TakeCull, Causes: []string{"cloud"}}, 0},
		{Selection{Take: TakeOwn, Causes: []string{"unreadable"}}, 0},
		{Selection{Take: TakeCull, Causes: []string{"unreadable"}}, 1},
	} {
		if p, err := NewPlan([]Sub{s}, c.sel); err != nil || len(p.Moves) != c.want {
			t.Errorf("%+v: %v, %d moves", c.sel, err, len(p.Moves))
		}
	}
}

// An undo through a link that leads to another night by now moves nothing of
// that night.
func TestUndoThroughAnotherLink(t *testing.T) {
	root := t.TempDir()
	link := filepath.Join(root, "tonight")
	out := filepath.Join(root, "out")
	must(t, os.Mkdir(out, 0o777))
	must(t, os.Symlink(filepath.Join(root, "night 1"), link))
	var subs []Sub
	for _, n := range []string{"a.fits", "b.fits"} {
		makeFrame(t, filepath.Join(root, "night 1", "lights", n), "")
		s := makeFrame(t, filepath.Join(root, "night 1", "lights", n), "cull")
		s.Path = filepath.Join(link, "lights", n)
		subs = append(subs, s)
	}
	w := Worker{OutDir: out}
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	must(t, err)
	if done, err := w.Apply(context.Background(), plan); err != nil || len(done.Moved) != 2 {
		t.Fatalf("%v %+v", err, done)
	}
	// The second night has files of the same names, two of them culled.
	var other []string
	for i, n := range []string{"a.fits", "b.fits"} {
		path := filepath.Join(root, "night 2", "lights", Folder, n)
		makeFrame(t, path, "")
		if i == 0 { // same size, another time
			must(t, os.WriteFile(path, make([]byte, subs[0].Size), 0o666))
			must(t, os.Chtimes(path, shot, shot.Add(24*time.Hour)))
		}
		other = append(other, path)
	}
	must(t, os.Remove(link))
	must(t, os.Symlink(filepath.Join(root, "night 2"), link))
	back, err := w.Undo(context.Background())
	if err != nil || len(back.Moved) != 0 || len(back.Refused) != 2 || !strings.Contains(back.Refused[0].Reason, "is not the file that was moved there") {
		t.Errorf("%v %+v", err, back)
	}
	for _, path := range other {
		if _, err := os.Lstat(path); err != nil {
			t.Errorf("%s of another night was moved: %v", path, err)
		}
	}
	must(t, os.Remove(link))
	must(t, os.Symlink(filepath.Join(root, "night 1"), link))
	if back, err := w.Undo(context.Background()); err != nil || len(back.Moved) != 2 {
		t.Errorf("with the link back: %v %+v", err, back)
	}
}

// A journal belongs to one night: another one's files are not moved on top.
func TestJournalOfAnotherNight(t *testing.T) {
	out, subs := makeNight(t, []string{"a", "b"})
	w := Worker{OutDir: out}
	plan, err := NewPlan(subs[:2], Selection{Take: TakeCull})
	must(t, err)
	plan.Night = []string{"/night 1"}
	_, err = w.Apply(context.Background(), plan)
	must(t, err)
	other, err := NewPlan(subs[2:], Selection{Take: TakeCull})
	must(t, err)
	other.Night = []string{"/night 2"}
	if night, n, err := Aside(out); err != nil || n != 1 || !slices.Equal(night, plan.Night) {
		t.Errorf("%d files of %q aside: %v", n, night, err)
	}
	if done, err := w.Apply(context.Background(), other); err == nil || !strings.Contains(err.Error(), `another night's culled files, in "/night 1"`) || !strings.Contains(err.Error(), "1 of them") || len(done.Moved) != 0 {
		t.Errorf("%v %+v", err, done)
	}
	wantPlaces(t, subs, 1)
	back, err := w.Undo(context.Background())
	if err != nil || len(back.Moved) != 1 {
		t.Errorf("%v %+v", err, back)
	}
	if night, n, err := Aside(out); err != nil || n != 0 || len(night) != 0 {
		t.Errorf("%d files of %q aside once they are back: %v", n, night, err)
	}
	if _, err := w.Apply(context.Background(), other); err != nil {
		t.Errorf("once the first night is back: %v", err)
	}
}

// A sub that night.json does not tell enough of stays, and no other for it.
func TestOneOddSub(t *testing.T) {
	root := t.TempDir()
	good := makeFrame(t, filepath.Join(root, "good"), "cull")
	for _, time := range []string{"null", `""`, `"12026-01-01T00:00:00Z"`, `"never"`} {
		text := fmt.Sprintf(`{"schema_version": 2, "roots": [%q], "subs": [
			{"path": %q, "size_bytes": %d, "modified_utc": %q, "verdict": "cull"},
			{"path": "/odd", "size_bytes": 1, "modified_utc": %s, "verdict": "cull"}]}`,
			root, good.Path, good.Size, good.Modified.Format("2006-01-02T15:04:05.999999999Z07:00"), time)
		subs, _, err := ReadNight(strings.NewReader(text))
		must(t, err)
		plan, err := NewPlan(subs, Selection{Take: TakeCull})
		if err != nil || len(plan.Moves) != 1 || len(plan.Refused) != 1 || plan.Refused[0].Path != "/odd" {
			t.Errorf("%s: %v %+v", time, err, plan)
		}
	}
}

// A check that knew of the user's verdict has said so already.
func TestOwnVerdictIsSaidOnce(t *testing.T) {
	for sentence, want := range map[string]string{
		"":                                     "your decision",
		"no stars":                             "your decision; measured: no stars",
		"your decision: cull (measured: keep)": "your decision: cull (measured: keep)",
	} {
		told := strings.HasPrefix(sentence, "your")
		night := fmt.Sprintf(`{"schema_version": 2, "subs": [{"verdict": "cull", "sentence": %q, "user_decision": %t}]}`, sentence, told)
		list, _, err := ReadNight(strings.NewReader(night))
		if err != nil {
			t.Fatal(err)
		}
		list[0].Decision = "cull"
		if got := list[0].Why(); got != want {
			t.Errorf("%q: %q, want %q", sentence, got, want)
		}
	}
}
