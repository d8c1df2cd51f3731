//go:build !unix

package cull

// Where there are no folder syncs and a removal that only takes
// empty folders, work goes on without.

func syncFolder(string) error { return nil }

func removeEmpty(string) {}

func isReadOnly(error) bool { return false }
