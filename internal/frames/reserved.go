package frames

// diskBlock is what file systems, copies and networks write in multiples of. Rows do not
// end there but by chance, nor does what a program fills with zeros on purpose: borders
// of aligned frames, black.
const diskBlock = 512

// written looks whether the image's last rows, as stored, were written at all. Programs
// that save or copy may reserve a file's room first: where one was interrupted, the size
// is right and zeros stand for the rest, which read as half the range or as no light.
func (r *Reader) written(last []byte) error {
	if row := last[len(last)-int(r.stride()):]; !r.plain() || zeros(row) < len(row) {
		return nil
	}
	at, before, err := r.lastWritten()
	if err != nil {
		return err
	}
	whole := r.u.offset + r.u.dataBytes
	rows := r.u.zero != 0 && r.u.bitpix > 0 // no row is at just this level
	if whole-at < r.stride() || !rows && (at%diskBlock != 0 || (at-r.u.offset)%r.stride() == 0 || r.black(before)) {
		return nil
	}
	return &TruncatedError{Have: at, Want: r.u.offset + padded(r.u.dataBytes), Reserved: true}
}

// lastWritten is where the samples end of which a byte is not zero, and the block before.
func (r *Reader) lastWritten() (at int64, before []byte, err error) {
	at = r.u.offset + r.u.dataBytes
	part := make([]byte, min(stripBytes, r.u.dataBytes))
	for at > r.u.offset {
		part = part[:min(int64(len(part)), at-r.u.offset)]
		if _, err := r.src.file.ReadAt(part, at-int64(len(part))); err != nil {
			return 0, nil, plainError(err)
		}
		n := int64(zeros(part))
		at -= n
		if n < int64(len(part)) {
			break
		}
	}
	size := int64(r.u.bytesPerSample())
	at += (size - (at-r.u.offset)%size) % size
	before = make([]byte, min(diskBlock, at-r.u.offset))
	_, err = r.src.file.ReadAt(before, at-int64(len(before)))
	return at, before, plainError(err)
}

// black tells that samples are zero already before the place where they might have been
// cut off.
func (r *Reader) black(before []byte) bool {
	size := r.u.bytesPerSample()
	for i := 0; i+size <= len(before); i += size {
		if zeros(before[i:i+size]) == size {
			return true
		}
	}
	return len(before) < diskBlock
}

// zeros is how many bytes at the end are zero.
func zeros(b []byte) int {
	n := 0
	for n < len(b) && b[len(b)-1-n] == 0 {
		n++
	}
	return n
}
