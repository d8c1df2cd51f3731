package demo

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"sync"
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
	u := rng.Float64()
	if k, ok := tabulated(m, u); ok {
		return float64(k)
	}
	return searched(m, u)
}

// searched is the deviate of mean m that share u of all are no larger than: inversion by
// sequential search (Devroye 1986, chapter X.3).
func searched(m, u float64) float64 {
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

// distribution is how likely a Poisson deviate of one mean is so large or smaller, and
// from which one to search for a share.
type distribution struct {
	upTo []float64
	from [256]uint8
}

// perUnit is how many distributions are kept for a mean of one; a deviate lies between
// two of them in all but one in perUnit cases.
const perUnit = 16

var distributions = sync.OnceValue(func() []distribution {
	all := make([]distribution, normalAbove*perUnit+2)
	for i := range all {
		mean := float64(i) / perUnit
		d := &all[i]
		p, sum := math.Exp(-mean), 0.0
		for k := range 200 {
			sum += p
			d.upTo = append(d.upTo, sum)
			p *= mean / float64(k+1)
		}
		k := 0
		for j := range d.from {
			for d.upTo[k] < float64(j)/float64(len(d.from)) {
				k++
			}
			d.from[j] = uint8(k)
		}
	}
	return all
})

// tabulated is the deviate that searched finds, where those of the next smaller mean and
// the next larger one in the table are the same.
func tabulated(m, u float64) (int, bool) {
	all := distributions()
	i := int(m * perUnit)
	less, more := &all[i], &all[i+1]
	k := int(less.from[int(u*float64(len(less.from)))])
	for k < len(less.upTo)-1 && u > less.upTo[k] {
		k++
	}
	return k, u <= more.upTo[k]
}
