//go:build !linux

package cull

// renameExclusive renames within a file system and does not replace a file
// that was there before the call.
func renameExclusive(from, to string) error { return renameChecked(from, to) }
