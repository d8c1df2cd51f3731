//go:build !(unix && !netbsd && !openbsd && !solaris && !illumos && !aix)

package watch

// FreeBytes is not known here.
func FreeBytes(string) int64 { return -1 }
