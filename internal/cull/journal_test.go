package cull

import (
	"bytes"
	"errors"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func someMoves() []Move {
	var moves []Move
	for _, n := range oddNames {
		m := Move{Sub: Sub{Path: filepath.Join("/night/lights one", n), Size: 42, Modified: shot}}
		m.To = filepath.Join("/night/lights one", Folder, n)
		moves = append(moves, m)
	}
	return moves
}

func TestJournalRoundTrip(t *testing.T) {
	var b bytes.Buffer
	nights := []string{"/a night", "/two\nlines"}
	must(t, writeJournal(&b, nights, someMoves()))
	gotNights, got, err := parseJournal(&b)
	if !slices.Equal(gotNights, nights) {
		t.Errorf("nights %q, want %q", gotNights, nights)
	}
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(someMoves(), got); diff != "" {
		t.Error(diff)
	}
}

// Every journal that is cut short, and every one that would rename something
// else than culled files, is refused.
func TestParseJournalRefuses(t *testing.T) {
	var b bytes.Buffer
	must(t, writeJournal(&b, []string{"/a night"}, someMoves()))
	for n := range b.Len() - 1 { // without its last byte, the line break, it is still whole
		if _, _, err := parseJournal(bytes.NewReader(b.Bytes()[:n])); err == nil {
			t.Fatalf("accepted the first %d of %d bytes", n, b.Len())
		}
	}
	for _, bad := range []string{
		"", "fitsqa cull journal 2\nend 0\n", journalHead + "\nend 1\n", journalHead + "\nend 0\nend 0\n",
		journalHead + "\nmove 1 2026-03-14T22:14:05Z \"/a/b\" \"/etc/b\"\nend 1\n",
		journalHead + "\nmove 1 2026-03-14T22:14:05Z \"/a/b\" \"/a/culled/c\"\nend 1\n",
		journalHead + "\nmove 1 2026-03-14T22:14:05Z \"a/b\" \"a/culled/b\"\nend 1\n",
		journalHead + "\nmove 1 2026-03-14T22:14:05Z \"/a/../b\" \"/a/../culled/b\"\nend 1\n",
		journalHead + "\nmove -1 2026-03-14T22:14:05Z \"/a/b\" \"/a/culled/b\"\nend 1\n",
		journalHead + "\nmove 1 yesterday \"/a/b\" \"/a/culled/b\"\nend 1\n",
		journalHead + "\nmove 1 2026-03-14T22:14:05Z \"/a/b\" \"/a/culled/b\" more\nend 1\n",
		journalHead + "\n" + strings.Repeat("x", maxJournalLine+1),
	} {
		_, _, err := parseJournal(strings.NewReader(bad))
		if located := (*journalError)(nil); !errors.As(err, &located) {
			t.Errorf("%.60q: %v", bad, err)
		}
	}
}

func FuzzParseJournal(f *testing.F) {
	var b bytes.Buffer
	writeJournal(&b, []string{"/a night"}, someMoves())
	f.Add(b.Bytes())
	f.Add([]byte(journalHead + "\nend 0\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		nights, moves, err := parseJournal(bytes.NewReader(data))
		if err != nil {
			return
		}
		for _, m := range moves {
			if m.To != filepath.Join(filepath.Dir(m.Path), Folder, filepath.Base(m.Path)) {
				t.Errorf("%q to %q is no cull", m.Path, m.To)
			}
		}
		var out bytes.Buffer
		if err := writeJournal(&out, nights, moves); err != nil {
			t.Fatal(err)
		}
		_, again, err := parseJournal(&out)
		if err != nil || !cmp.Equal(moves, again) {
			t.Errorf("does not survive writing: %v", err)
		}
	})
}

func TestReadNight(t *testing.T) {
	subs, _, err := ReadNight(strings.NewReader(`{"schema_version": 1, "roots": ["x"], "subs": [
		{"path": "/n/a b.fits", "size_bytes": 10, "modified_utc": "2026-03-14T22:14:05.123456789Z", "verdict": "cull", "sentence": "s", "more": {}},
		{"path": "/n/\ufffd.fits", "path_bytes": "L24v/C5maXRz", "size_bytes": 11, "modified_utc": "2026-03-14T22:14:05Z", "verdict": "keep"}]}`))
	if err != nil {
		t.Fatal(err)
	}
	if len(subs) != 2 || !reflect.DeepEqual(subs[0], Sub{Path: "/n/a b.fits", Size: 10, Modified: shot, Verdict: "cull", Sentence: "s"}) || subs[1].Path != "/n/\xfc.fits" {
		t.Errorf("%+v", subs)
	}
	for _, bad := range []string{"", "[]", `{"schema_version": 3}`, `{"subs": []}`,
		`{"schema_version": 1, "subs": [{"path": "/a", "verdict": "burn", "modified_utc": "2026-03-14T22:14:05Z"}]}`} {
		if _, _, err := ReadNight(strings.NewReader(bad)); err == nil {
			t.Errorf("accepted %s", bad)
		}
	}
}

func FuzzReadNight(f *testing.F) {
	f.Add([]byte(`{"schema_version": 1, "subs": [{"path": "/n/a", "path_bytes": "L24v", "size_bytes": 1, "modified_utc": "2026-03-14T22:14:05Z", "verdict": "cull"}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		subs, _, err := ReadNight(bytes.NewReader(data))
		if err != nil {
			return
		}
		for i := range subs {
			subs[i].Path = "not/absolute" // so that no file of this machine is looked at
		}
		if p, err := NewPlan(subs, Selection{Take: TakeCull}); err != nil || len(p.Moves) > 0 {
			t.Errorf("%v %+v", err, p)
		}
	})
}
