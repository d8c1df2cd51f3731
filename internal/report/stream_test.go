package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"iter"
	"math"
	"testing"
)

// Objects are written byte for byte as encoding/json does at once.
func TestObjectsAreWrittenAsTheEncoderDoes(t *testing.T) {
	type inner struct {
		A string          `json:"a"`
		B []real          `json:"b"`
		M map[string]real `json:"m,omitempty"`
	}
	list := []inner{{"<&\u2028>\xff", []real{1, real(math.NaN())}, nil}, {"", nil, map[string]real{"z": 1, "y": 2}}, {A: "\x1b"}}
	double := func(v inner) inner { v.A += v.A; return v }
	var doubled []inner
	for _, v := range list {
		doubled = append(doubled, double(v))
	}
	object := struct {
		Version int     `json:"version"`
		List    []inner `json:"list"`
		None    []inner `json:"none"`
		Slice   []inner `json:"slice"`
		Empty   []inner `json:"empty"`
		Nil     []inner `json:"nil"`
		In      inner   `json:"in"`
	}{1, doubled, []inner{}, list, []inner{}, nil, list[1]}
	var want, got bytes.Buffer
	enc := json.NewEncoder(&want)
	enc.SetIndent("", jsonIndent)
	if err := enc.Encode(object); err != nil {
		t.Fatal(err)
	}
	streamed := struct {
		Version int             `json:"version"`
		List    iter.Seq[inner] `json:"list"`
		None    iter.Seq[inner] `json:"none"`
		Slice   []inner         `json:"slice"`
		Empty   []inner         `json:"empty"`
		Nil     []inner         `json:"nil"`
		In      inner           `json:"in"`
	}{1, entries(list, double), entries(list[:0], double), list, []inner{}, nil, list[1]}
	if err := writeObject(&got, streamed); err != nil {
		t.Fatal(err)
	}
	if got.String() != want.String() {
		t.Errorf("got\n%s\nwant\n%s", &got, &want)
	}
	if err := writeObject(full{}, streamed); !errors.Is(err, errFull) {
		t.Errorf("on a full disk: %v", err)
	}
	if err := writeObject(&got, struct {
		C []any `json:"c"`
	}{[]any{1, make(chan int)}}); err == nil {
		t.Error("what JSON cannot hold is no error")
	}
}

var errFull = errors.New("full")

// full takes nothing.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }
