package report

import (
	"errors"
	"os"
	"path/filepath"

	"fitsqa/internal/outdir"
)

// shelf keeps pictures as files beside the page, once they are too many for it.
type shelf struct {
	dir  string          // the output folder
	room int             // bytes of JPEG that the page may hold itself
	used map[string]bool // files that this run's page shows
	made []string        // those that were not there before
}

// put keeps a picture, nil for none, and gives the source that the page names.
func (s *shelf) put(jpg []byte) (string, error) {
	if len(jpg) == 0 {
		return "", nil
	}
	name := outdir.PictureName(jpg)
	source := outdir.PicturesDir + "/" + name
	if s.used[name] {
		return source, nil
	}
	s.used[name] = true
	path := filepath.Join(s.dir, outdir.PicturesDir, name)
	if info, err := os.Stat(path); err == nil && info.Size() == int64(len(jpg)) {
		return source, nil
	}
	s.made = append(s.made, path)
	return source, s.write(path, jpg)
}

func (s *shelf) write(path string, jpg []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	hidden := filepath.Join(s.dir, "."+filepath.Base(path)+outdir.TemporarySuffix)
	if err := os.WriteFile(hidden, jpg, 0o644); err != nil {
		return errors.Join(err, os.Remove(hidden))
	}
	return os.Rename(hidden, path)
}

func (s *shelf) takeBack() {
	for _, path := range s.made {
		_ = os.Remove(path) // what stays is only untidy
	}
	_ = os.Remove(filepath.Join(s.dir, outdir.PicturesDir)) // fails where earlier pictures are left, as it should
}

func (s *shelf) sweep() {
	folder := filepath.Join(s.dir, outdir.PicturesDir)
	entries, _ := os.ReadDir(folder) // mostly there is none
	for _, e := range entries {
		if outdir.IsPictureName(e.Name()) && !s.used[e.Name()] {
			_ = os.Remove(filepath.Join(folder, e.Name())) // what stays is only untidy
		}
	}
	_ = os.Remove(folder) // fails unless it is empty
}
