package main

import (
	"encoding/json"
	"flag"
	"go/format"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

var doExercise = flag.Bool("exercise", false, "run the tests of each part of the newcomer's exercise")

// change adds text before the only place of a file where at stands.
type change struct{ file, at, add string }

// exercise is one part of the newcomer's exercise of DEVELOPERS.md: the changes by
// hand, what -update writes, and the tests that then must pass and the packages they
// are in.
type exercise struct {
	name     string
	byHand   []change
	written  []change
	tests    string
	packages []string
}

var exercises = []exercise{
	{
		name: "keyword",
		byHand: []change{
			{"internal/frames/synonyms.go", `"SHUTTIME", `, `"SHUTOPEN", `},
			{"internal/frames/metadata_test.go", `		{"exposure 0", `, `		{"exposure, another keyword", []string{"SHUTOPEN= 42"}, func(m Meta) any { return m.Exposure }, 42.},` + "\n"},
		},
		tests: "TestMeta", packages: []string{"./internal/frames"},
	},
	{
		name: "metric",
		byHand: []change{
			{"internal/report/measure.go", `	{name: "random_noise_adu", `, `	{name: "unsaturated_stars", title: "Unsaturated stars", of: ofField(func(f *stars.Field) stats.Value { return count(f.Count - f.Saturated) })},` + "\n"},
			{"internal/report/night.schema.json", `      "random_noise_adu",`, `      "unsaturated_stars",` + "\n"},
			{"internal/report/night.schema.json", `      "random_noise_adu": {`, `      "unsaturated_stars": {
       "$ref": "#/$defs/figure",
       "description": "Stars that do not saturate."
      },
`},
		},
		tests: "TestJSONMatchesSchema|TestSchemaListsMeasures|TestMeasuresAreNamed", packages: []string{"./internal/report"},
	},
	{
		name: "cause",
		byHand: []change{
			{"internal/subs/causes.go", "	single((*evidence).warmSensor),\n", "	single((*evidence).frozen),\n"},
			{"internal/subs/causes.go", "// finders look for", `// Frozen is a sub that was shot in a frost that stiffens the mount.
const Frozen Cause = "frozen"

// AirFrost is its fact.
const AirFrost fact.Code = "air_frost" // air_c, limit

const frostLimit = -30 // °C of the air

func (e *evidence) frozen() Finding {
	if !(e.AmbientTemp < frostLimit) {
		return Finding{}
	}
	return Finding{Frozen, Doubtful, 1, []fact.Fact{fact.Of(AirFrost, fact.Number("air_c", e.AmbientTemp), fact.Number("limit", frostLimit))}}
}

`},
			{"internal/subs/causes.go", "// Cause is why", "import \"fitsqa/internal/fact\"\n\n"},
			{"internal/say/findings.go", "	subs.Dewed: ", `	subs.Frozen: {"was shot in a frost", "were shot in a frost", "wait for a warmer night"},` + "\n"},
			{"internal/say/findings.go", "	subs.SensorOffGroup:", `	subs.AirFrost: "the air at {air_c %.0f} °C; limit {limit %g}",` + "\n"},
		},
		written: []change{
			{"internal/say/frozen_test.go", "", `package say

import (
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/subs"
)

func TestFrozen(t *testing.T) {
	s := &subs.Sub{File: "a.fits", AmbientTemp: -41, Field: &stars.Field{Count: 100}}
	s.Transparency.Ratio.V = 1
	subs.Judge([]*subs.Sub{s}, subs.DefaultLimits)
	if s.Verdict != subs.Doubtful || Sub(s) != "the air at -41 °C; limit -30" {
		t.Errorf("%s: %q", s.Verdict, Sub(s))
	}
}
`},
		},
		tests: "TestFrozen|TestSentenceOfSub", packages: []string{"./internal/say"},
	},
	{
		name: "sentence",
		byHand: []change{
			{"internal/say/morning.go", "	if n, culled, seconds := decided(r); n > 0 {", `	if n := len(r.Subs) - cull - doubtful; n > 1 {
		texts = append(texts, fmt.Sprintf("%d others need no look.", n))
	}
`},
			{"internal/report/said_test.go", `	case strings.HasPrefix(text, "Register on"):`, `	case strings.HasSuffix(text, "others need no look."):
		s.holds("others", s.find(` + "`^(\\d+)`" + `)[1], float64(d.Summary.Subs-d.Summary.Cull-d.Summary.Doubtful))
`},
		},
		tests: "TestSentencesHoldToFigures", packages: []string{"./internal/report"},
	},
}

// The newcomer's exercise of DEVELOPERS.md takes two files by hand for each part. Here
// its changes are made to copies of the files; with -exercise the tests are run over
// them (make exercise).
func TestExercise(t *testing.T) {
	for _, x := range exercises {
		t.Run(x.name, func(t *testing.T) {
			root, dir := filepath.Join("..", ".."), t.TempDir()
			files := map[string]string{} // as changed, by name
			for _, c := range x.byHand {
				files[c.file] = c.in(t, root, files)
			}
			if len(files) != 2 {
				t.Errorf("it takes %d files by hand", len(files))
			}
			for _, c := range x.written {
				files[c.file] = c.add
			}
			overlay := overlaid(t, root, dir, files)
			if *doExercise {
				cmd := exec.Command("go", append([]string{"test", "-overlay", overlay, "-run", x.tests}, x.packages...)...)
				cmd.Dir = root
				if out, err := cmd.CombinedOutput(); err != nil {
					t.Errorf("%v\n%s", err, out)
				}
			}
		})
	}
}

// in makes the change to a file, which earlier changes may have changed.
func (c change) in(t *testing.T, root string, files map[string]string) string {
	t.Helper()
	text, ok := files[c.file]
	if !ok {
		b, err := os.ReadFile(filepath.Join(root, c.file))
		if err != nil {
			t.Fatal(err)
		}
		text = string(b)
	}
	if n := strings.Count(text, c.at); n != 1 {
		t.Fatalf("%s has %q %d times", c.file, c.at, n)
	}
	return strings.Replace(text, c.at, c.add+c.at, 1)
}

// overlaid writes changed files into a folder, and the list that tells go of them.
func overlaid(t *testing.T, root, dir string, files map[string]string) string {
	t.Helper()
	absolute, err := filepath.Abs(root)
	if err != nil {
		t.Fatal(err)
	}
	var overlay struct{ Replace map[string]string }
	overlay.Replace = map[string]string{}
	for name, text := range files {
		if strings.HasSuffix(name, ".go") {
			if _, err := format.Source([]byte(text)); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		} else if !json.Valid([]byte(text)) {
			t.Fatalf("%s is not JSON any more", name)
		}
		copied := filepath.Join(dir, strings.ReplaceAll(name, "/", "_"))
		if err := os.WriteFile(copied, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		overlay.Replace[filepath.Join(absolute, name)] = copied
	}
	list, err := json.Marshal(overlay)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "overlay.json")
	if err := os.WriteFile(file, list, 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}
