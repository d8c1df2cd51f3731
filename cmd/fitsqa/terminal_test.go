package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// hostileNames are names that terminals would obey, in whole or in part: cursor
// and colour sequences, titles, C1 controls in UTF-8 and as bytes, bells,
// overprinting, line breaks, and what turns or hides text.
var hostileNames = []string{
	"\x1b[31mred", "\x1b[2J\x1b[Hgone", "\x1b]0;title\x07", "\x1b]52;c;cm0=\x07", "\x1b]8;;mailto:x\x1b\\link", "\x1bc", "\x1b[?1049h",
	"\x1bP+q544e\x1b\\", "\x1b_apc\x1b\\", "\x1b[6n", "\x1b[1;1Hover", "\x1b(0lines", "\x1b#8", "\x1b[3J",
	"\u009b31mred", "\u009dtitle\u009c", "\u0090dcs\u009c", "\u0085next", "\u008dback", "\x9b31m", "\x9d0;t\x9c", "\x90q\x9c",
	"bell\x07", "back\x08\x08\x08\x08", "over\rprinted", "form\x0cfeed", "vertical\x0btab", "shift\x0eout\x0f", "del\x7f", "nul-ish\x01\x02",
	"two\nlines", "fake\nfitsqa check: all is well", "tab\there", "\u202egnp", "\u2066iso\u2069", "\u200bzero", "\ufeffbom", "bad\xff\xfe", "cut\xe2\x82", "line\u2028sep", "tag\U000e0041",
}

// wantPlain fails where a text holds what a terminal would obey, or a line that
// a name has forged.
func wantPlain(t *testing.T, where, text string) {
	t.Helper()
	for line := range strings.Lines(text) {
		if !utf8.ValidString(line) || strings.ContainsFunc(strings.TrimSuffix(line, "\n"), func(r rune) bool {
			return r != '\t' && !unicode.IsPrint(r)
		}) {
			t.Errorf("%s shows what a terminal would obey: %q", where, line)
		}
		if strings.HasPrefix(line, "fitsqa check: all is well") {
			t.Errorf("%s: a name has forged a line", where)
		}
	}
}

// No command shows a hostile name as it is, whether it stands for a folder, a
// file, an option, or in a report that others made.
func TestHostileNamesOverAllCommands(t *testing.T) {
	root := t.TempDir()
	t.Setenv("XDG_DATA_HOME", root)
	t.Setenv("XDG_CACHE_HOME", root)
	for i, name := range hostileNames {
		dir := filepath.Join(root, fmt.Sprint(i), name)
		out := filepath.Join(dir, "out")
		if err := os.MkdirAll(out, 0o755); err != nil {
			t.Skip("the file system takes no such name: ", err)
		}
		frame := filepath.Join(dir, name+".fits")
		if err := os.WriteFile(frame, []byte(name), 0o644); err != nil {
			t.Fatal(err)
		}
		info, err := os.Stat(frame)
		if err != nil {
			t.Fatal(err)
		}
		sub := map[string]any{"name": name, "path_bytes": []byte(frame), "size_bytes": info.Size(), "verdict": "cull", "causes": []string{name},
			"modified_utc": info.ModTime().UTC().Format("2006-01-02T15:04:05.999999999Z07:00"), "sentence": name}
		odd := map[string]any{"name": name, "path_bytes": []byte(frame + "x"), "verdict": "cull", "modified_utc": name, "sentence": name}
		night, err := json.Marshal(map[string]any{"schema_version": 2, "roots": []string{name}, "subs": []any{sub, odd}})
		if err != nil {
			t.Fatal(err)
		}
		for file, content := range map[string][]byte{"night.json": night, "decisions": []byte("keep " + name + "\n"), "config": []byte("\"" + name + "\" = 1\n")} {
			if err := os.WriteFile(filepath.Join(out, file), content, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		for _, args := range [][]string{
			{name}, {"check", "--" + name}, {"check", "--workers", name, dir}, {"check", filepath.Join(dir, "none")},
			{"check", "--no-ledger", "-o", filepath.Join(root, "reports", name), dir},
			{"check", "--config", filepath.Join(out, "config"), dir}, {"check", "--config", filepath.Join(dir, "none"), dir},
			{"check", "--site", name, dir}, {"check", "-o", filepath.Join(frame, "x"), filepath.Join(root, "reports")},
			{"check", "--decisions", filepath.Join(out, "decisions"), "--no-ledger", "-o", filepath.Join(root, "reports", name), dir},
			{"watch", filepath.Join(dir, "none")}, {"watch", "--on-alert", "a; " + name, dir},
			{"cull", out}, {"cull", "--take", name, out}, {"cull", "--cause", name, out}, {"cull", "--decisions", filepath.Join(out, "decisions"), out},
			{"cull", "--apply", out}, {"cull", "--undo", out}, {"cull", "--undo", out}, {"cull", filepath.Join(dir, "none")},
			{"ledger", "--ledger", filepath.Join(dir, "none.db")}, {"ledger", "--ledger", frame}, {"ledger", "--csv=" + name}, {"ledger", "--forget", name},
			{"ledger", "--html", filepath.Join(frame, "x")}, {"check", "--masters", filepath.Join(dir, "m"), dir}, {"ahead", "--night", name}, {"ahead", "--zone", name},
			{"demo", "--scenario", name, filepath.Join(dir, "demo")}, {"demo", frame}, {"cache", name}, {"settings", name}, {"version", name}, {"man", frame}, {"help", name},
		} {
			if slices.ContainsFunc(args, func(a string) bool { return strings.ContainsRune(a, 0) }) {
				continue
			}
			_, stdout, stderr := call(t, args...)
			wantPlain(t, fmt.Sprintf("fitsqa %q", args), stdout+stderr)
		}
	}
}

// Characters that are cut between two writes come out whole.
func TestPlainTextAcrossWrites(t *testing.T) {
	for _, text := range append(slices.Clone(hostileNames), "Größe °C 夜 \U0001F52D") {
		var whole, single bytes.Buffer
		w := &plainText{w: &whole}
		w.Write([]byte(text))
		w.flush()
		s := &plainText{w: &single}
		for i := range len(text) {
			s.Write([]byte{text[i]})
		}
		s.flush()
		if whole.String() != single.String() {
			t.Errorf("%q: %q at once, %q byte by byte", text, &whole, &single)
		}
		wantPlain(t, "plainText", strings.ReplaceAll(whole.String(), "\nfitsqa", ""))
	}
}
