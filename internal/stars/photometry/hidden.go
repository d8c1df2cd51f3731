package photometry

// unlit is the share of a field whose sky is hidden. Above an offset that was not taken
// off, only some of the dark parts are dark by their ratio.
func (z *zeroPoints) unlit(j int) float64 {
	share := z.unlitByRatio(j)
	if dim := z.dimParts(j); z.gone(j, dim) {
		share = max(share, shareOf(dim, z.fields[j].SkyParts))
	}
	return share
}

// unlitByRatio is that whose level is a fraction of the lit parts'.
func (z *zeroPoints) unlitByRatio(j int) float64 {
	f := z.fields[j]
	own, lit := litSky(f)
	if lit > 0 && (1-unlitSky)*lit > unlitSure*levelErr(f) {
		if dark := z.darkParts(j, own, goneShare); z.gone(j, dark) {
			return shareOf(dark, own)
		}
		if dark := z.darkParts(j, own, unlitShare); !z.shine(j, dark) {
			return shareOf(dark, own)
		}
	}
	return 0
}
