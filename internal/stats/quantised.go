package stats

import "math"

// QuantisedVariance, in steps of the converter squared, is where quantisation
// dominates: of noise whose variance with quantisation is less, no more can be said
// than that (EMVA 1288, limit for the minimal temporal standard deviation; from memory).
const QuantisedVariance = 0.24

// NoiseLimit is the least noise, quantisation included, that samples on a grid of
// step can tell: what shows less is known to be at most this. 0 without a grid.
func NoiseLimit(step float64) float64 { return step * math.Sqrt(QuantisedVariance) }
