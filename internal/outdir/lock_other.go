//go:build !unix

package outdir

// Where there are no advisory locks, work goes on without.
func lock(string) (unlock func(), err error) { return func() {}, nil }

// left cannot be known without locks: what was left stays.
func left(string) (unlock func(), ok bool) { return nil, false }
