package profile

// normalProductsPlain is normalProducts row by row of the result.
func normalProductsPlain(table []params, stamp []sample, out *[nParams]params) {
	for i := range out {
		var s0, s1, s2, s3, s4, s5, s6, s7 float64 // in registers
		for k := range table {
			g, w := &table[k], stamp[k].w
			v := g[i&(nParams-1)]
			s0 += w * g[0] * v
			s1 += w * g[1] * v
			s2 += w * g[2] * v
			s3 += w * g[3] * v
			s4 += w * g[4] * v
			s5 += w * g[5] * v
			s6 += w * g[6] * v
			s7 += w * g[7] * v
		}
		out[i] = params{s0, s1, s2, s3, s4, s5, s6, s7}
	}
}
