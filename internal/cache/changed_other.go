//go:build !linux

package cache

import "os"

// changed is not asked for here: the time of the last change of the content counts alone.
func changed(os.FileInfo) int64 { return 0 }
