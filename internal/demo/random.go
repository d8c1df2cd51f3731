package demo

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// source gives every named part of a night its own sequence, so that frames
// can be made in any order.
func source(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// shares are 1, 1/2, 1/3 ...: to multiply with them is quicker than to divide.
var shares = func() (s [500]float64) {
	for i := range s {
		s[i] = 1 / float64(i+1)
	}
	return s
}()

// normalAbove is the mean from which poisson uses a normal deviate.
const normalAbove = 50

// poisson draws from a Poisson distribution of mean m. Above normalAbove it is
// the normal approximation with the skewness corrected (first Cornish-Fisher
// term), whose mean, variance and skewness are those of the Poisson.
func poisson(m float64, rng *rand.Rand) float64 {
	if m <= 0 {
		return 0
	}
	if m > normalAbove {
		z := rng.NormFloat64()
		return math.Floor(m + math.Sqrt(m)*z + (z*z-1)/6 + 0.5)
	}
	// Inversion by sequential search (Devroye 1986, chapter X.3).
	u := rng.Float64()
	p := math.Exp(-m)
	k := 0.0
	for _, share := range &shares {
		if u <= p {
			break
		}
		u -= p
		k++
		p *= m * share
	}
	return k
}
