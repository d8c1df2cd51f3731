package photometry

// unlit is the share of a field whose sky is hidden.
func (z *zeroPoints) unlit(j int) float64 {
	f := z.fields[j]
	own, lit := litSky(f)
	if lit > 0 && (1-unlitSky)*lit > unlitSure*levelErr(f) {
		if dark := z.darkParts(j, own); !z.shine(j, dark) {
			if share := shareOf(dark, own); share > 0 {
				return share
			}
		}
	}
	if dim := z.dimParts(j); z.gone(j, dim) {
		return shareOf(dim, f.SkyParts)
	}
	return 0
}
