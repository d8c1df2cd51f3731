//go:build !linux

package stats

// askHugePages does nothing: this system does not hand them out on request.
func askHugePages([]byte) {}
