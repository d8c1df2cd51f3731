package review

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"sync"
	"time"

	"fitsqa/internal/outdir"
)

// Server serves one night.
type Server struct {
	night  *nightFiles
	book   *book
	store  *store
	curves lastCurve
	token  string

	mu    sync.Mutex
	stars map[int]*starList // of the frames asked for last
	order []int             // their numbers, the oldest first

	measuring sync.Mutex // one star search at a time: it takes a core and a copy of the frame
}

// New reads the night in an output folder.
func New(outdir string) (*Server, error) {
	n, err := readNight(outdir)
	if err != nil {
		return nil, err
	}
	if _, _, err := readPage(outdir, n); err != nil {
		return nil, err
	}
	b, err := newBook(outdir, n)
	if err != nil {
		return nil, err
	}
	return &Server{night: n, book: b, store: newStore(), token: newToken(), stars: map[int]*starList{}}, nil
}

// Serve serves the night on a free port of this machine until ctx ends, and
// tells its address once it can be asked.
func (s *Server) Serve(ctx context.Context, ready func(address string)) error {
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		return err
	}
	host := l.Addr().String()
	server := &http.Server{
		Handler:           &guard{s.token, host, s.routes()},
		ReadHeaderTimeout: 10 * time.Second,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	go func() {
		<-ctx.Done()
		stop, cancel := context.WithTimeout(context.Background(), 5*time.Second)
		defer cancel()
		_ = server.Shutdown(stop) // what still runs then is cut off with the program
	}()
	ready("http://" + host + "/" + s.token + "/")
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

func (s *Server) routes() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET /{$}", s.page)
	m.HandleFunc("GET /review.js", asset("review.js", "text/javascript; charset=utf-8"))
	m.HandleFunc("GET /review.css", asset("review.css", "text/css; charset=utf-8"))
	m.HandleFunc("GET /"+outdir.PicturesDir+"/{name}", s.shelved)
	m.HandleFunc("GET /state", func(w http.ResponseWriter, _ *http.Request) { answer(w, s.book.all()) })
	m.HandleFunc("GET /changes", s.changes)
	m.HandleFunc("GET /frame/{i}", s.frame)
	m.HandleFunc("GET /frame/{i}/tile/{z}/{x}/{y}", s.tile)
	m.HandleFunc("GET /frame/{i}/stars", s.starsOf)
	m.HandleFunc("GET /frame/{i}/stars/{k}", s.star)
	m.HandleFunc("POST /marks", s.setMarks)
	m.HandleFunc("POST /plan", s.plan)
	m.HandleFunc("POST /move", s.move)
	m.HandleFunc("POST /undo", s.undo)
	m.HandleFunc("/", func(w http.ResponseWriter, _ *http.Request) {
		refuse(w, http.StatusNotFound, "nothing here by this name")
	})
	return m
}

// changes streams what changes on the night's subs, to every open page.
func (s *Server) changes(w http.ResponseWriter, r *http.Request) {
	flusher, ok := w.(http.Flusher)
	if !ok {
		refuse(w, http.StatusNotImplemented, "no streams here")
		return
	}
	changes, stop := s.book.listen()
	defer stop()
	w.Header().Set("Content-Type", "text/event-stream")
	send := func(c change) bool {
		text, err := json.Marshal(c)
		if err != nil {
			return false
		}
		_, err = fmt.Fprintf(w, "data: %s\n\n", text)
		flusher.Flush()
		return err == nil
	}
	if !send(s.book.all()) {
		return
	}
	for {
		select {
		case <-r.Context().Done():
			return
		case c, open := <-changes:
			if !open || !send(c) {
				return
			}
		}
	}
}
