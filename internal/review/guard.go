package review

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"path"
	"strings"
)

// guard lets through only what the page itself asks for: the token leads the
// path, the host is this machine's address (a name that was made to point here
// is refused), and no other page is behind it.
type guard struct {
	token string
	host  string // 127.0.0.1:port
	next  http.Handler
}

// newToken is 128 random bits.
func newToken() string {
	b := make([]byte, 16)
	_, _ = rand.Read(b) // never fails
	return hex.EncodeToString(b)
}

func (g *guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	if r.Host != g.host {
		refuse(w, http.StatusForbidden, "this night is served at http://"+g.host+" only")
		return
	}
	if origin := r.Header.Get("Origin"); origin != "" && origin != "http://"+g.host {
		refuse(w, http.StatusForbidden, "another page asks for this night: refused")
		return
	}
	if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "same-origin" && site != "none" {
		refuse(w, http.StatusForbidden, "another page asks for this night: refused")
		return
	}
	if clean := path.Clean(r.URL.Path); clean != r.URL.Path && clean+"/" != r.URL.Path {
		refuse(w, http.StatusNotFound, "nothing here by this name")
		return
	}
	token, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	if subtle.ConstantTimeCompare([]byte(token), []byte(g.token)) != 1 {
		refuse(w, http.StatusForbidden, "the address lacks its token: open the one that fitsqa review printed")
		return
	}
	if r.Method == http.MethodPost && (r.Header.Get("Origin") == "" || r.Header.Get("Content-Type") != "application/json") {
		refuse(w, http.StatusForbidden, "not asked by the page: refused")
		return
	}
	inner := r.Clone(r.Context())
	inner.URL.Path, inner.URL.RawPath = "/"+rest, ""
	g.next.ServeHTTP(w, inner)
}

func refuse(w http.ResponseWriter, code int, reason string) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(code)
	_ = json.NewEncoder(w).Encode(map[string]string{"error": reason}) // the asker has gone
}

func answer(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(v) // the asker has gone
}
