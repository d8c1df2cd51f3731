package report

import (
	"bytes"
	"encoding/json"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/say"
)

// The schema lists the causes and codes of facts that there are; -update writes them.
func TestSchemaListsCauses(t *testing.T) {
	schema := schemaText
	for _, list := range []struct {
		name  string // the definition before the list
		codes []string
	}{{"cause", say.Causes()}, {"fact_code", say.Codes()}} {
		var doc struct {
			Defs map[string]struct{ Enum []string } `json:"$defs"`
		}
		if err := json.Unmarshal(schema, &doc); err != nil {
			t.Fatal(err)
		}
		listed := doc.Defs[list.name].Enum
		if !*update {
			if diff := cmp.Diff(list.codes, listed); diff != "" {
				t.Errorf("%s (-there +listed):\n%s", list.name, diff)
			}
			continue
		}
		inSchema := func(codes []string) []byte {
			text, err := json.MarshalIndent(codes, "   ", " ")
			if err != nil {
				t.Fatal(err)
			}
			return append([]byte(`"enum": `), text...)
		}
		schema = bytes.Replace(schema, inSchema(listed), inSchema(list.codes), 1)
	}
	if *update {
		if err := os.WriteFile("night.schema.json", schema, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
