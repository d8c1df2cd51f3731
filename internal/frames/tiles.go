package frames

import "io"

// tileTable is where the tiles of a compressed image lie.
type tileTable struct{ Algorithm string }

func (t *tileTable) open(s *source, u *unit) (io.Reader, error) { return nil, nil }

func (h *header) tiledImage(u hdu) (*unit, []string, error) {
	return nil, nil, &UnsupportedError{"tile compression"}
}
