package review

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"

	"fitsqa/internal/outdir"
)

//go:embed assets
var assets embed.FS

const maxPage = 200 << 20

var (
	policyTag  = regexp.MustCompile(`<meta http-equiv="Content-Security-Policy" content="[^"]*">`)
	scriptHash = regexp.MustCompile(`sha256-[A-Za-z0-9+/]{43}=`)
	nightData  = regexp.MustCompile(`(?s)<script type="application/json" id="night-data">(.*?)</script>`)
)

var (
	errNoPage    = errors.New("no report.html of fitsqa here: check the night again")
	errOtherPage = errors.New("report.html and night.json are not of the same run: check the night again")
)

// readPage is report.html as it is served: with the script and the style of the
// review, under a policy that lets it ask this server and nothing else.
func readPage(outdir string, n *nightFiles) (page []byte, policy string, err error) {
	path := filepath.Join(outdir, "report.html")
	if info, err := os.Stat(path); err == nil && info.Size() > maxPage {
		return nil, "", fmt.Errorf("report.html of %d MB is too large", info.Size()>>20)
	}
	page, err = os.ReadFile(path)
	if err != nil {
		return nil, "", err
	}
	tag := policyTag.Find(page)
	hash := scriptHash.Find(bytes.ReplaceAll(tag, []byte("&#43;"), []byte("+")))
	if hash == nil || !bytes.Contains(page, []byte("</body>")) {
		return nil, "", errNoPage
	}
	if err := sameNight(page, n); err != nil {
		return nil, "", err
	}
	page = bytes.Replace(page, tag, []byte(`<link rel="stylesheet" href="review.css">`), 1)
	end := bytes.LastIndex(page, []byte("</body>"))
	page = bytes.Join([][]byte{page[:end], []byte(`<script src="review.js"></script>` + "\n"), page[end:]}, nil)
	return page, fmt.Sprintf("default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; "+
		"img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; connect-src 'self'; script-src 'self' '%s'", hash), nil
}

// sameNight compares the page's subs with those of night.json, which the page
// numbers alike.
func sameNight(page []byte, n *nightFiles) error {
	found := nightData.FindSubmatch(page)
	if found == nil {
		return errNoPage
	}
	var data struct {
		Subs []struct {
			Measured string `json:"measured"`
		} `json:"subs"`
	}
	if err := json.Unmarshal(found[1], &data); err != nil {
		return errNoPage
	}
	if len(data.Subs) != len(n.subs) {
		return errOtherPage
	}
	for i, s := range data.Subs {
		if s.Measured != n.subs[i].Verdict {
			return errOtherPage
		}
	}
	return nil
}

func (s *Server) page(w http.ResponseWriter, _ *http.Request) {
	page, policy, err := readPage(s.book.outdir, s.night)
	if err != nil {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	w.Header().Set("Content-Security-Policy", policy)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(page) // the asker has gone
}

// shelved serves a picture that the page keeps beside itself.
func (s *Server) shelved(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	if !outdir.IsPictureName(name) {
		refuse(w, http.StatusNotFound, "nothing here by this name")
		return
	}
	jpg, err := os.ReadFile(filepath.Join(s.book.outdir, outdir.PicturesDir, name))
	if err != nil || outdir.PictureName(jpg) != name {
		refuse(w, http.StatusNotFound, "this picture is gone or was changed: check the night again")
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	_, _ = w.Write(jpg) // the asker has gone
}

func asset(name, kind string) http.HandlerFunc {
	text, err := assets.ReadFile("assets/" + name)
	if err != nil {
		panic(err) // embedded at build time
	}
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		_, _ = w.Write(text) // the asker has gone
	}
}
