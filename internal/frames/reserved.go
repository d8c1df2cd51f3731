package frames

import "io"

// diskBlock is what file systems, copies and networks write in multiples of. Rows do not
// end there but by chance, nor does what a program fills with zeros on purpose: borders
// of aligned frames, black.
const diskBlock = 512

// written looks whether the image's last rows, as stored, were written at all. Programs
// that save or copy may reserve a file's room first: where one was interrupted, the size
// is right and zeros stand for the rest, which read as half the range or as no light.
func (u *unit) written(file io.ReaderAt, last []byte) error {
	stride := int64(u.width * u.bytesPerSample())
	if row := last[len(last)-int(stride):]; zeros(row) < len(row) {
		return nil
	}
	at, before, err := u.lastWritten(file)
	if err != nil {
		return err
	}
	whole := u.offset + u.dataBytes
	rows := u.zero != 0 && u.bitpix > 0 // no row is at just this level
	if whole-at < stride || !rows && (at%diskBlock != 0 || (at-u.offset)%stride == 0 || u.black(before)) {
		return nil
	}
	return &TruncatedError{Have: at, Want: u.offset + padded(u.dataBytes), Reserved: true}
}

// lastWritten is where the samples end of which a byte is not zero, and the block before.
func (u *unit) lastWritten(file io.ReaderAt) (at int64, before []byte, err error) {
	at = u.offset + u.dataBytes
	part := make([]byte, min(stripBytes, u.dataBytes))
	for at > u.offset {
		part = part[:min(int64(len(part)), at-u.offset)]
		if _, err := file.ReadAt(part, at-int64(len(part))); err != nil {
			return 0, nil, plainError(err)
		}
		n := int64(zeros(part))
		at -= n
		if n < int64(len(part)) {
			break
		}
	}
	size := int64(u.bytesPerSample())
	at += (size - (at-u.offset)%size) % size
	before = make([]byte, min(diskBlock, at-u.offset))
	_, err = file.ReadAt(before, at-int64(len(before)))
	return at, before, plainError(err)
}

// black tells that samples are zero already before the place where they might have been
// cut off.
func (u *unit) black(before []byte) bool {
	size := u.bytesPerSample()
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
