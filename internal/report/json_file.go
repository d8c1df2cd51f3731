package report

import (
	"encoding/base64"
	"path/filepath"
	"unicode/utf8"

	"fitsqa/internal/frames"
	"fitsqa/internal/say"
)

type fileJSON struct {
	Name        string `json:"name"`
	Path        string `json:"path"`
	PathBytes   string `json:"path_bytes,omitempty"` // base64, when path is not valid UTF-8
	SizeBytes   int64  `json:"size_bytes"`
	ModifiedUTC string `json:"modified_utc"`
}

type frameJSON struct {
	fileJSON
	Kind         string     `json:"kind"`
	KindSource   string     `json:"kind_source"`
	Master       bool       `json:"master"`
	Width        int        `json:"width_px"`
	Height       int        `json:"height_px"`
	Planes       int        `json:"planes"`
	Warnings     []string   `json:"warnings"`
	WarningFacts []factJSON `json:"warning_facts"`
	Error        string     `json:"error,omitempty"`
}

func kindName(k frames.Kind) string {
	if k == frames.Unknown {
		return "unknown"
	}
	return string(k)
}

func newFileJSON(f *frames.Frame) fileJSON {
	path, err := filepath.Abs(f.Path)
	if err != nil { // no current folder any more: the path as it was given
		path = f.Path
	}
	file := fileJSON{Name: f.Name, Path: path, SizeBytes: f.Size, ModifiedUTC: nanoStamp(f.ModTime)}
	if !utf8.ValidString(path) {
		file.PathBytes = base64.StdEncoding.EncodeToString([]byte(path))
	}
	return file
}

func newFrameJSON(f *frames.Frame) frameJSON {
	j := frameJSON{
		fileJSON: newFileJSON(f), Kind: kindName(f.Kind), KindSource: string(f.KindSource), Master: f.Master,
		Width: f.Image.Width, Height: f.Image.Height, Planes: f.Image.Planes, Warnings: list(say.OfFile(f)), WarningFacts: newFactsJSON(f.Findings),
	}
	if f.Err != nil {
		j.Error = f.Err.Error()
	}
	return j
}
