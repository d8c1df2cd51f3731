//go:build !amd64

package stats

func ranked(x *[Few]float32, k, l int32) (kth, lth float32) { return rankedPlain(x, k, l) }
