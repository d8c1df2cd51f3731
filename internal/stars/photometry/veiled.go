package photometry

// veiledFrom is the share of a field without light from which on it tells less of its stars
// than fields without do.
const veiledFrom = 0.08

// find solves stars and fields and finds the stars that must be in each; where fields turn
// out to be covered in part, once more without what they say of the stars.
func (z *zeroPoints) find() {
	z.solve()
	z.findDue()
	if z.findVeiled() {
		z.solve()
		z.findDue()
		z.findHidden()
	}
}

// findHidden tells by field how much of its sky is hidden.
func (z *zeroPoints) findHidden() {
	z.eachField(func(j int) {
		if z.fields[j] != nil {
			z.hidden[j] = z.unlit(j)
		}
	})
}

// findVeiled tells which fields have a part without light, and whether some have.
func (z *zeroPoints) findVeiled() (some bool) {
	z.findHidden()
	for j, dues := range z.dues {
		z.veiled[j] = z.hidden[j] > veiledFrom || z.lostOf(j, dues, len(dues) > 0 && z.blurred(j)) > veiledFrom
		some = some || z.veiled[j]
	}
	return some
}
