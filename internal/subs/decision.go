package subs

import (
	"bufio"
	"fmt"
	"io"
	"path"
	"sort"
	"strconv"
	"strings"
)

// DecisionError says where a decision file is wrong.
type DecisionError struct {
	Line int // from 1
	Msg  string
}

func (e *DecisionError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Msg) }

// maxDecisionLine bounds one line: the longest path an operating system takes
// is 4096 bytes, and Go's quoting makes at most four of each.
const maxDecisionLine = 1 << 16

// ParseDecisions reads the user's own verdicts, one a line:
//
//	# the satellite flare does not bother me
//	keep lights/M 33_Ha_0014.fits
//	cull "odd\nname.fits"
//
// The name is the rest of the line without outer spaces, or, when it begins
// with a double quote, a string in Go's syntax (for names that hold line
// breaks, outer spaces or a leading quote). Blank lines and lines that begin
// with # count for nothing. A name may be decided once. The error is a
// *DecisionError or comes from r.
func ParseDecisions(r io.Reader) (map[string]Verdict, error) {
	out := map[string]Verdict{}
	sc := bufio.NewScanner(r)
	sc.Buffer(nil, maxDecisionLine)
	line := 0
	for sc.Scan() {
		line++
		text := strings.Trim(sc.Text(), " \t\r")
		if text == "" || text[0] == '#' {
			continue
		}
		verb, name := text, ""
		if i := strings.IndexAny(text, " \t"); i >= 0 {
			verb, name = text[:i], strings.Trim(text[i:], " \t")
		}
		var v Verdict
		switch verb {
		case "keep":
			v = Keep
		case "cull":
			v = Cull
		default:
			return nil, &DecisionError{line, fmt.Sprintf("%q is neither keep nor cull", verb)}
		}
		if strings.HasPrefix(name, `"`) {
			unquoted, err := strconv.Unquote(name)
			if err != nil {
				return nil, &DecisionError{line, "the quoted name does not end or holds a bad escape"}
			}
			name = unquoted
		}
		if name == "" {
			return nil, &DecisionError{line, verb + " needs a file name"}
		}
		if _, twice := out[name]; twice {
			return nil, &DecisionError{line, fmt.Sprintf("%q was decided before", name)}
		}
		out[name] = v
	}
	if err := sc.Err(); err == bufio.ErrTooLong {
		return nil, &DecisionError{line + 1, "line too long"}
	} else if err != nil {
		return nil, err
	}
	return out, nil
}

// ApplyDecisions sets Decision in the subs that the decisions name: by the
// name of the reports, or by the file name alone where only one sub has it. It
// returns the names that fit no sub, or several, sorted.
func ApplyDecisions(all []*Sub, decisions map[string]Verdict) (unmatched []string) {
	byName, byBase := map[string]*Sub{}, map[string][]*Sub{}
	for _, s := range all {
		byName[s.File] = s
		byBase[path.Base(s.File)] = append(byBase[path.Base(s.File)], s)
	}
	for name, v := range decisions {
		if s := byName[name]; s != nil {
			s.Decision = v
		} else if c := byBase[name]; len(c) == 1 {
			c[0].Decision = v
		} else {
			unmatched = append(unmatched, name)
		}
	}
	sort.Strings(unmatched)
	return unmatched
}
