package main

import (
	"strings"
	"testing"

	"fitsqa/internal/cache"
)

func TestCacheToldAndCleared(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	dir, err := cacheDir()
	if err != nil {
		t.Fatal(err)
	}
	store, err := cache.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	key := cache.NewKey("some").Key()
	if err := store.Put(key, make([]byte, 100)); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		want string
		left bool
	}{
		{[]string{"cache"}, "1 entry, ", true},
		{[]string{"cache", "--clear"}, "1 entry, ", false},
		{[]string{"cache"}, "0 entries, ", false},
	} {
		code, stdout, stderr := call(t, c.args...)
		if code != exitDone || !strings.HasPrefix(stdout, c.want) || store.Has(key) != c.left {
			t.Errorf("%v: %d %q %q, still there: %v", c.args, code, stdout, stderr, store.Has(key))
		}
	}
	if code, _, _ := call(t, "cache", "x"); code != exitUsage {
		t.Errorf("a name too much: %d", code)
	}
}
