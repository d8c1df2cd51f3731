package stats

import "math"

func rankedPlain(x *[Few]float32, k, l int32) (kth, lth float32) {
	kth, lth = -math.MaxFloat32, -math.MaxFloat32
	for _, v := range x {
		var less int32
		for _, other := range x {
			if other < v {
				less++
			}
		}
		if less <= k {
			kth = max(kth, v)
		}
		if less <= l {
			lth = max(lth, v)
		}
	}
	return kth, lth
}
