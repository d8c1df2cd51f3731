package subs

import (
	"bufio"
	"fmt"
	"io"
	"path"
	"sort"
	"strconv"
	"strings"
	"unicode"
)

// Decision is one verdict of the user's own.
type Decision struct {
	Verdict Verdict // Keep or Cull
	Name    string  // of the sub as in the reports, or the file's name alone
	Content string  // fingerprint of the file; "" when the decision goes by the name
}

// decisionError says where a decision file is wrong.
type decisionError struct {
	Line int // from 1
	Msg  string
}

func (e *decisionError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Msg) }

// maxDecisionLine bounds one line: the longest path an operating system takes
// is 4096 bytes, and Go's quoting makes at most four of each.
const maxDecisionLine = 1 << 16

// contentMark stands before the fingerprint in a line.
const contentMark = "content:"

// ParseDecisions reads the user's own verdicts, one a line:
//
//	# the satellite flare does not bother me
//	keep lights/M 33_Ha_0014.fits
//	cull "odd\nname.fits"
//	cull content:3d5f08b1f2a94c7790d3a1b26e0c4f58 lights/M 33_Ha_0015.fits
//
// The name is the rest of the line without outer spaces, or, when it begins
// with a double quote, a string in Go's syntax (for names that hold line
// breaks, outer spaces or a leading quote). With a content in front, what the
// file holds counts and its name only tells the reader which it was. Blank
// lines and lines that begin with # count for nothing. A file may be decided
// once. The error is a *decisionError or comes from r.
func ParseDecisions(r io.Reader) ([]Decision, error) {
	var out []Decision
	type file struct{ name, content string }
	seen := map[file]bool{}
	sc := bufio.NewScanner(r)
	sc.Buffer(nil, maxDecisionLine)
	line := 0
	for sc.Scan() {
		line++
		text := strings.Trim(sc.Text(), " \t\r")
		if text == "" || text[0] == '#' {
			continue
		}
		d, err := parseDecision(text)
		if err != nil {
			return nil, &decisionError{line, err.Error()}
		}
		is := file{d.Name, d.Content}
		if d.Content != "" {
			is.name = ""
		}
		if seen[is] {
			return nil, &decisionError{line, fmt.Sprintf("%q was decided before", d.Name)}
		}
		seen[is] = true
		out = append(out, d)
	}
	if err := sc.Err(); err == bufio.ErrTooLong {
		return nil, &decisionError{line + 1, "line too long"}
	} else if err != nil {
		return nil, err
	}
	return out, nil
}

func parseDecision(text string) (d Decision, err error) {
	verb, rest := cutWord(text)
	switch verb {
	case "keep":
		d.Verdict = Keep
	case "cull":
		d.Verdict = Cull
	default:
		return d, fmt.Errorf("%q is neither keep nor cull", verb)
	}
	if strings.HasPrefix(rest, contentMark) {
		d.Content, rest = cutWord(rest[len(contentMark):])
		if !isFingerprint(d.Content) {
			return d, fmt.Errorf("%q is no content of 32 hexadecimal digits", d.Content)
		}
	}
	d.Name = rest
	if strings.HasPrefix(rest, `"`) {
		if d.Name, err = strconv.Unquote(rest); err != nil {
			return d, fmt.Errorf("the quoted name does not end or holds a bad escape")
		}
	}
	if d.Name == "" {
		return d, fmt.Errorf("%s needs a file name", verb)
	}
	return d, nil
}

// cutWord is the first word of a text, and the rest without the space before it.
func cutWord(text string) (word, rest string) {
	if i := strings.IndexAny(text, " \t"); i >= 0 {
		return text[:i], strings.Trim(text[i:], " \t")
	}
	return text, ""
}

func isFingerprint(s string) bool {
	return len(s) == 32 && strings.Trim(s, "0123456789abcdef") == ""
}

// String is the decision as a line of a file.
func (d Decision) String() string {
	if d.Content == "" {
		return string(d.Verdict) + " " + DecisionName(d.Name)
	}
	return string(d.Verdict) + " " + contentMark + d.Content + " " + DecisionName(d.Name)
}

// DecisionName is a name as a decision file has it: quoted as a Go string where
// the plain name would not be read back.
func DecisionName(name string) string {
	plain := name != "" && name[0] != '"' && !strings.HasPrefix(name, contentMark) && strings.TrimSpace(name) == name
	for _, c := range name {
		plain = plain && unicode.IsPrint(c) && c != unicode.ReplacementChar
	}
	if plain {
		return name
	}
	return strconv.Quote(name)
}

// MatchDecisions tells what was decided of each of some subs ("" nothing),
// given the names of all and how to learn a sub's content, which is asked for
// only where a decision has one ("" when it cannot be learnt). A decision with
// a content is one on the file that holds it, whatever its name; one without is
// by the name of the reports, or by the file name alone where only one sub has
// it. Of several decisions on one sub the last counts. unmatched are those that
// fit no sub, or several.
func MatchDecisions(decisions []Decision, names []string, content func(i int) string) (of []Verdict, unmatched []Decision) {
	of = make([]Verdict, len(names))
	byName, byBase := map[string]int{}, map[string][]int{}
	for i, name := range names {
		byName[name] = i
		byBase[path.Base(name)] = append(byBase[path.Base(name)], i)
	}
	findName := func(d Decision) (int, bool) {
		if i, ok := byName[d.Name]; ok {
			return i, true
		}
		if c := byBase[d.Name]; len(c) == 1 {
			return c[0], true
		}
		return 0, false
	}
	known := map[int]string{}
	holds := func(i int, want string) bool {
		if _, ok := known[i]; !ok {
			known[i] = content(i)
		}
		return known[i] == want
	}
	findContent := func(d Decision) (int, bool) {
		if i, ok := findName(d); ok && holds(i, d.Content) {
			return i, true
		}
		for i := range names {
			if holds(i, d.Content) {
				return i, true
			}
		}
		return 0, false
	}
	for _, d := range decisions {
		look := findContent
		if d.Content == "" {
			look = findName
		}
		if i, ok := look(d); ok {
			of[i] = d.Verdict
		} else {
			unmatched = append(unmatched, d)
		}
	}
	return of, unmatched
}

// ApplyDecisions sets Decision in the subs that the decisions are on, as
// MatchDecisions finds them, and returns the names of those that fit none,
// sorted.
func ApplyDecisions(all []*Sub, decisions []Decision, content func(i int) string) (unmatched []string) {
	names := make([]string, len(all))
	for i, s := range all {
		names[i] = s.File
	}
	of, left := MatchDecisions(decisions, names, content)
	for i, v := range of {
		all[i].Decision = v
	}
	for _, d := range left {
		unmatched = append(unmatched, d.Name)
	}
	sort.Strings(unmatched)
	return unmatched
}
