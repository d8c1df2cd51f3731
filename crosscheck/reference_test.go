// Package crosscheck holds fitsqa to values that general-purpose libraries give
// for the same frames. The scripts beside this file make the values, which are
// committed in testdata/reference; run.sh computes them again.
//
// What needs real frames that may not be copied skips where they are missing.
package crosscheck

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
)

const (
	referenceFolder = "../testdata/reference"
	copiedFolder    = "../testdata/fits"
)

// table is a CSV file's rows by column name.
type table []map[string]string

// readTable reads CSV; lines that begin with '#' are comments.
func readTable(t *testing.T, path string) table {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if len(lines) < 2 {
		t.Fatalf("%s holds no rows", path)
	}
	var rows table
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// number is a row's value in a column; the test fails where it is empty.
func number(t *testing.T, row map[string]string, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[column], 64)
	if err != nil {
		t.Fatalf("column %q of %v: %v", column, row, err)
	}
	return v
}

// column is a whole column as numbers.
func (rows table) column(t *testing.T, name string) []float64 {
	t.Helper()
	var out []float64
	for _, row := range rows {
		out = append(out, number(t, row, name))
	}
	return out
}

// byFile finds the row of a file, whatever folder stands before its name.
func (rows table) byFile(t *testing.T, name string) map[string]string {
	t.Helper()
	for _, row := range rows {
		if filepath.Base(row["file"]) == filepath.Base(name) {
			return row
		}
	}
	t.Fatalf("no row for %s", name)
	return nil
}

// readReference decodes a JSON file of reference values.
func readReference(t *testing.T, name string, into any) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(referenceFolder, name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// realFrames is a folder of real frames; the test skips where it is missing.
func realFrames(t *testing.T, name string) string {
	t.Helper()
	root := os.Getenv("DATA")
	if root == "" {
		root = "../../shared/data"
	}
	folder := filepath.Join(root, name)
	if _, err := os.Stat(folder); err != nil {
		t.Skipf("the real frames of %s are not at hand", name)
	}
	return folder
}

// built is where the program lies that the tests build once.
var built string

func TestMain(m *testing.M) {
	var err error
	if built, err = os.MkdirTemp("", "fitsqa-crosscheck"); err != nil {
		panic(err)
	}
	code := m.Run()
	_ = os.RemoveAll(built) // it is a temporary folder
	os.Exit(code)
}

// program is the one that FITSQA names; without it, it is built.
var program = sync.OnceValues(func() (string, error) {
	if named := os.Getenv("FITSQA"); named != "" {
		return named, nil
	}
	path := filepath.Join(built, "fitsqa")
	if out, err := exec.Command("go", "build", "-o", path, "../cmd/fitsqa").CombinedOutput(); err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, out)
	}
	return path, nil
})

// check runs the program over a folder and returns where its reports are.
func check(t *testing.T, folder string) string {
	t.Helper()
	program, err := program()
	if err != nil {
		t.Fatal(err)
	}
	reports := filepath.Join(t.TempDir(), "reports")
	if out, err := exec.Command(program, "check", "--no-cache", "--no-ledger", "--out", reports, folder).CombinedOutput(); err != nil {
		t.Fatalf("fitsqa check %s: %v\n%s", folder, err, out)
	}
	return reports
}
