package stats

//go:generate go run ../assembly -routines ranked -out ranked_amd64.s

import "golang.org/x/sys/cpu"

func ranked(x *[Few]float32, k, l int32) (kth, lth float32) {
	if !cpu.X86.HasAVX2 {
		return rankedPlain(x, k, l)
	}
	return rankedAVX2(x, k, l)
}

//go:noescape
func rankedAVX2(x *[Few]float32, k, l int32) (kth, lth float32)
