// Package plan turns a night's figures into advice: how long to expose, what
// the night yielded, and what to shoot next.
package plan

// Plan is the advice for every target and filter.
type Plan struct {
	Words []string // the advice in sentences, most useful first
}
