package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Masters never go among the frames, and never over others.
func TestMastersStayApart(t *testing.T) {
	night, full := t.TempDir(), t.TempDir()
	if err := os.WriteFile(filepath.Join(full, "master_bias.fits"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for dir, want := range map[string]string{filepath.Join(night, "masters"): "inside the source folder", full: "holds masters already"} {
		code, stdout, stderr := call(t, "check", "--no-ledger", "--out", filepath.Join(t.TempDir(), "out"), "--masters", dir, night)
		if code != exitUsage || !strings.Contains(stderr, want) {
			t.Errorf("%s: exit code %d, %s%s", dir, code, stdout, stderr)
		}
	}
}
