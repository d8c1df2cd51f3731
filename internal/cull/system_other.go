//go:build !unix

package cull

// Where there are no advisory locks, folder syncs and a removal that only takes
// empty folders, work goes on without.

func lock(string) (unlock func(), err error) { return func() {}, nil }

func syncFolder(string) error { return nil }

func removeEmpty(string) {}

func isReadOnly(error) bool { return false }
