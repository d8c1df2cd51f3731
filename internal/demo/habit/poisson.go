package habit

import (
	"math"
	"math/rand/v2"
	"sync"
)

// normalFrom is the mean from which Poisson rounds a normal deviate.
const normalFrom = 40

// Poisson draws from a Poisson distribution. Below normalFrom that is exact: the sum
// of two Poisson deviates is one of the sum of their means. One is of the whole part of
// the mean, looked up in its distribution, the other of the rest, by inversion with
// sequential search (Devroye 1986, Non-Uniform Random Variate Generation, chapter X.3).
func Poisson(mean float64, rng *rand.Rand) float64 {
	switch {
	case mean <= 0:
		return 0
	case mean >= normalFrom:
		return math.RoundToEven(mean + math.Sqrt(mean)*rng.NormFloat64())
	}
	whole := int(mean)
	k := 0
	if whole > 0 {
		k = wholeMeans()[whole].at(rng.Float64())
	}
	u, p := rng.Float64(), math.Exp(float64(whole)-mean)
	for j := 1.0; u > p && j < 30; j++ {
		u -= p
		p *= (mean - float64(whole)) / j
		k++
	}
	return float64(k)
}

// lookup is a distribution of counts: how likely so many or fewer are, and from where
// to search for a share of it.
type lookup struct {
	upTo []float64
	from [256]int
}

var wholeMeans = sync.OnceValue(func() *[normalFrom]lookup {
	all := new([normalFrom]lookup)
	for mean := 1; mean < normalFrom; mean++ {
		l := &all[mean]
		p, sum := math.Exp(-float64(mean)), 0.0
		for k := 0; k < 4*normalFrom; k++ {
			sum += p
			l.upTo = append(l.upTo, sum)
			p *= float64(mean) / float64(k+1)
		}
		for i := range l.from {
			for l.from[i] < len(l.upTo)-1 && l.upTo[l.from[i]] <= float64(i)/float64(len(l.from)) {
				l.from[i]++
			}
		}
	}
	return all
})

func (l *lookup) at(u float64) int {
	k := l.from[int(u*float64(len(l.from)))]
	for k < len(l.upTo)-1 && u >= l.upTo[k] {
		k++
	}
	return k
}
