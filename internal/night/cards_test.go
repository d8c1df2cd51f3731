package night_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fitsqa/internal/demo"
	"fitsqa/internal/night"
)

// setCards rewrites the header of a file: "KEY" to the text of its value, as it
// stands behind the equals sign; "" takes the card away. A card that is not
// there is put before END, into the blanks of its block.
func setCards(t *testing.T, path string, cards map[string]string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	end := bytes.Index(b, []byte("END"+strings.Repeat(" ", 77)))
	for end%80 != 0 {
		t.Fatal("no END at a card's start")
	}
	put := func(at int, text string) { copy(b[at:at+80], fmt.Sprintf("%-80.80s", text)) }
	left := map[string]string{}
	for k, v := range cards {
		left[k] = v
	}
	for at := 0; at < end; at += 80 {
		key := strings.TrimSpace(string(b[at : at+8]))
		value, ok := left[key]
		if !ok {
			continue
		}
		delete(left, key)
		if value == "" {
			put(at, "COMMENT")
			continue
		}
		put(at, fmt.Sprintf("%-8s= %s", key, value))
	}
	for key, value := range left {
		if value == "" {
			continue
		}
		if (end+80)%2880 == 0 {
			t.Fatal("no room for another card")
		}
		put(end, fmt.Sprintf("%-8s= %s", key, value))
		end += 80
		put(end, "END")
	}
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
}

// lightsIn are the files of subs below a demo night, in the order shot.
func lightsIn(t *testing.T, dir string) []string {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(dir, "lights", "*", "*.fits"))
	if err != nil || len(all) == 0 {
		t.Fatalf("no subs below %s: %v", dir, err)
	}
	return all
}

// underOneName checks a night all of whose subs bear one target's name.
func underOneName(t *testing.T, sc demo.Scenario, name string) *night.Result {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(t.Context(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	for _, path := range lightsIn(t, dir) {
		setCards(t, path, map[string]string{"OBJECT": "'" + name + "'"})
	}
	return check(t, dir)
}
