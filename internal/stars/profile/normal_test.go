package profile

import (
	"math/rand/v2"
	"testing"
)

// Vector instructions give bit for bit what one product after another gives.
func TestNormalProducts(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for n := range 258 {
		table, stamp := make([]params, n), make([]sample, n)
		for k := range table {
			stamp[k].w = rng.Float64()
			for i := range table[k] {
				table[k][i] = rng.NormFloat64()
			}
		}
		var got, want [nParams]params
		normalProducts(table, stamp, &got)
		normalProductsPlain(table, stamp, &want)
		for i := range want {
			for j := range i + 1 {
				if got[i][j] != want[i][j] {
					t.Fatalf("%d pixels, columns %d and %d: %v, want %v", n, i, j, got[i][j], want[i][j])
				}
			}
		}
	}
}

func BenchmarkNormalProducts(b *testing.B) {
	table, stamp := make([]params, 250), make([]sample, 250)
	var out [nParams]params
	for name, f := range map[string]func([]params, []sample, *[nParams]params){"vector": normalProducts, "plain": normalProductsPlain} {
		b.Run(name+"/pixels=250", func(b *testing.B) {
			for b.Loop() {
				f(table, stamp, &out)
			}
		})
	}
}
