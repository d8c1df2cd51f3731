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
		return math.Round(m + math.Sqrt(m)*z + (z*z-1)/6)
	}
	// Inversion by sequential search (Devroye 1986, chapter X.3).
	u := rng.Float64()
	p := math.Exp(-m)
	k := 0.0
	for u > p && k < 500 {
		u -= p
		k++
		p *= m / k
	}
	return k
}
