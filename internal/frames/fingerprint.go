package frames

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"io"
)

// A fingerprint reads pieces of pieceBytes at even distances: enough of a
// frame's noise that no two frames agree, little enough to be read at once.
const (
	fingerprintPieces = 16
	pieceBytes        = 16 << 10
)

// Fingerprint names a file by what it holds, whatever it is called and wherever
// it lies: 32 hexadecimal digits of a digest over pieces of the stored samples
// and their coding, so that a card added to the header changes nothing. Of a
// compressed file, and of one without an image, the pieces are of the file as
// it is. It tells frames of a night apart; it does not prove that no byte
// changed, which size and time of a file do better.
func Fingerprint(path string) (string, error) {
	s, err := openSource(path)
	if err != nil {
		return "", err
	}
	defer s.Close()
	h := sha256.New()
	from, size := int64(0), s.size
	if s.gz == nil {
		u, _, err := locate(s, DefaultScanOptions.MaxBytes)
		if err == nil && u.tiles == nil && u.offset+u.dataBytes <= s.size {
			from, size = u.offset, u.dataBytes
			writeNumbers(h, int64(u.width), int64(u.height), int64(u.planes), int64(u.bitpix))
		}
	}
	writeNumbers(h, size)
	piece := make([]byte, pieceBytes)
	last := max(0, size-pieceBytes) // where the last piece begins
	for i := range int64(fingerprintPieces) {
		n, err := s.file.ReadAt(piece[:min(size, pieceBytes)], from+last*i/(fingerprintPieces-1))
		if err != nil && !errors.Is(err, io.EOF) {
			return "", plainError(err)
		}
		h.Write(piece[:n])
	}
	return hex.EncodeToString(h.Sum(nil)[:16]), nil
}

func writeNumbers(w io.Writer, numbers ...int64) {
	_ = binary.Write(w, binary.BigEndian, numbers) // a hash takes everything
}
