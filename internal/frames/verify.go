package frames

import "io"

// verify reads what is left of the file where it carries checksums, once the
// last row has been read, and compares: the data unit with the header's sums,
// gzip with its own.
func (r *Reader) verify() error {
	if r.u.sums.asks() {
		sum, err := r.dataSum()
		if err != nil {
			return err
		}
		if err := r.u.sums.check(sum); err != nil {
			return err
		}
	}
	return r.src.drain()
}

// dataSum is the sum of the whole data unit: of the bytes that went by, where
// they all did, else of the unit read once more.
func (r *Reader) dataSum() (uint32, error) {
	end := r.u.offset + padded(r.u.dataBytes)
	switch {
	case r.u.tiles != nil && r.src.gz != nil, r.u.tiles == nil && r.sum.n == r.src.pos-r.u.offset:
		if _, err := io.CopyN(&r.sum, readerOnly{r.src}, end-r.src.pos); err != nil && !isEnd(err) { // padding may be missing
			return 0, err
		}
	default:
		r.sum = onesSum{}
		if _, err := io.Copy(&r.sum, io.NewSectionReader(r.src.file, r.u.offset, end-r.u.offset)); err != nil {
			return 0, plainError(err)
		}
	}
	return r.sum.folded(), nil
}
