package review

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"strconv"
	"sync"
	"time"

	"fitsqa/internal/cull"
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

// subOf is the sub that a request names, or an answer that it names none.
func (s *Server) subOf(w http.ResponseWriter, r *http.Request) (int, bool) {
	i, err := strconv.Atoi(r.PathValue("i"))
	if err != nil || i < 0 || i >= len(s.night.subs) {
		refuse(w, http.StatusNotFound, "no frame of this night has this number")
		return 0, false
	}
	return i, true
}

// pictureOf is a sub's picture, as long as its file is the one that was analysed.
func (s *Server) pictureOf(w http.ResponseWriter, i int) (*picture, bool) {
	path, _, err := s.night.subs[i].place()
	switch {
	case errors.Is(err, errGone):
		refuse(w, http.StatusGone, err.Error())
		return nil, false
	case err != nil:
		refuse(w, http.StatusConflict, err.Error())
		return nil, false
	}
	p, err := s.store.get(i, func() (*picture, error) { return readPicture(path) })
	if err != nil {
		refuse(w, http.StatusUnprocessableEntity, err.Error())
		return nil, false
	}
	return p, true
}

// askedFor is the sub that a request names, with its picture.
func (s *Server) askedFor(w http.ResponseWriter, r *http.Request) (i int, p *picture, ok bool) {
	if i, ok = s.subOf(w, r); !ok {
		return 0, nil, false
	}
	p, ok = s.pictureOf(w, i)
	return i, p, ok
}

// frameView is what the page needs to know before it asks for tiles.
type frameView struct {
	Width     int       `json:"width"`
	Height    int       `json:"height"`
	Levels    [][2]int  `json:"levels"` // width and height of each, the full size first
	Tile      int       `json:"tile"`   // px
	Colour    bool      `json:"colour"`
	Auto      Stretch   `json:"auto"`
	Sky       float64   `json:"sky"`
	Noise     float64   `json:"noise"`
	Transform []float64 `json:"transform"` // to the frame that the target's subs share; empty when not aligned
	North     *float64  `json:"north"`     // degrees from +x counter-clockwise; null without a plate solution
	East      *float64  `json:"east"`      // likewise
	Moved     bool      `json:"moved"`     // it lies in its culled folder
}

func (s *Server) frame(w http.ResponseWriter, r *http.Request) {
	i, p, ok := s.askedFor(w, r)
	if !ok {
		return
	}
	sub := s.night.subs[i]
	_, moved, _ := sub.place() // a file that vanished since shows at the first tile
	v := frameView{
		Width: p.width, Height: p.height, Tile: tileSize, Colour: p.bayer != "" || len(p.levels[0].planes) == 3,
		Auto: p.autoStretch(), Sky: p.sky[0], Noise: p.noise[0], Transform: sub.Transform, North: known(sub.North), East: known(sub.East), Moved: moved,
	}
	if v.Transform == nil {
		v.Transform = []float64{}
	}
	for _, l := range p.levels {
		v.Levels = append(v.Levels, [2]int{l.width, l.height})
	}
	answer(w, v)
}

func (s *Server) tile(w http.ResponseWriter, r *http.Request) {
	i, ok := s.subOf(w, r)
	if !ok {
		return
	}
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	q := r.URL.Query()
	stretch := Stretch{Black: number(q.Get("black")), White: number(q.Get("white")), Mid: number(q.Get("mid")), Invert: q.Get("invert") == "1"}
	z, errZ := strconv.Atoi(r.PathValue("z"))
	x, errX := strconv.Atoi(r.PathValue("x"))
	y, errY := strconv.Atoi(r.PathValue("y"))
	if !stretch.valid() || errors.Join(errZ, errX, errY) != nil {
		refuse(w, http.StatusBadRequest, "no such tile")
		return
	}
	p, ok := s.pictureOf(w, i)
	if !ok {
		return
	}
	tile := p.tile(z, x, y, stretch, s.curves.of(stretch))
	if tile == nil {
		refuse(w, http.StatusNotFound, "no such tile")
		return
	}
	w.Header().Set("Content-Type", "image/png")
	_, _ = w.Write(tile) // the asker has gone
}

// keptStars is how many star lists are kept: one holds a few thousand stars.
const keptStars = 20

// starListOf measures a frame's stars, once.
func (s *Server) starListOf(i int, p *picture) (*starList, error) {
	s.measuring.Lock()
	defer s.measuring.Unlock()
	s.mu.Lock()
	list := s.stars[i]
	s.mu.Unlock()
	if list != nil {
		return list, nil
	}
	sub := s.night.subs[i]
	list, err := measureStars(p, sub.EPerADU, s.night.saturation[sub.Camera])
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stars[i] = list
	if s.order = append(s.order, i); len(s.order) > keptStars {
		delete(s.stars, s.order[0])
		s.order = s.order[1:]
	}
	return list, nil
}

func (s *Server) starsOf(w http.ResponseWriter, r *http.Request) {
	if list, _, ok := s.starsAskedFor(w, r); ok {
		answer(w, list)
	}
}

// starsAskedFor are those of the sub that a request names.
func (s *Server) starsAskedFor(w http.ResponseWriter, r *http.Request) (list *starList, p *picture, ok bool) {
	i, p, ok := s.askedFor(w, r)
	if !ok {
		return nil, nil, false
	}
	list, err := s.starListOf(i, p)
	if err != nil {
		refuse(w, http.StatusUnprocessableEntity, err.Error())
		return nil, nil, false
	}
	return list, p, true
}

func (s *Server) star(w http.ResponseWriter, r *http.Request) {
	list, p, ok := s.starsAskedFor(w, r)
	if !ok {
		return
	}
	k, err := strconv.Atoi(r.PathValue("k"))
	if err != nil || k < 0 || k >= len(list.found) {
		refuse(w, http.StatusNotFound, "no star of this frame has this number")
		return
	}
	answer(w, p.profileOf(list.found[k]))
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

// maxAsked bounds what a page may send, bytes: a mark on each of ten thousand
// subs is a tenth of it.
const maxAsked = 2 << 20

// asked reads what a page sends.
func asked(w http.ResponseWriter, r *http.Request, into any) bool {
	d := json.NewDecoder(io.LimitReader(r.Body, maxAsked))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		refuse(w, http.StatusBadRequest, "not understood: "+err.Error())
		return false
	}
	return true
}

func (s *Server) setMarks(w http.ResponseWriter, r *http.Request) {
	var body struct {
		Marks map[int]string `json:"marks"`
	}
	if !asked(w, r, &body) {
		return
	}
	refused, err := s.book.set(body.Marks)
	switch {
	case errors.Is(err, errMark):
		refuse(w, http.StatusBadRequest, err.Error())
	case err != nil:
		refuse(w, http.StatusInternalServerError, err.Error())
	default:
		answer(w, map[string]any{"refused": refused})
	}
}

// wish is which subs to move, as the page asks.
type wish struct {
	Take    string   `json:"take"`
	Causes  []string `json:"causes"`
	Filters []string `json:"filters"`
	Digest  string   `json:"digest"`
}

func (v wish) selection() cull.Selection {
	return cull.Selection{Take: cull.Choice(v.Take), Causes: v.Causes, Filters: v.Filters}
}

func (s *Server) plan(w http.ResponseWriter, r *http.Request) {
	var body wish
	if !asked(w, r, &body) {
		return
	}
	_, view, err := s.book.plan(body.selection())
	if err != nil {
		refuse(w, http.StatusBadRequest, err.Error())
		return
	}
	answer(w, view)
}

func (s *Server) move(w http.ResponseWriter, r *http.Request) {
	var body wish
	if !asked(w, r, &body) {
		return
	}
	out, err := s.book.move(context.WithoutCancel(r.Context()), body.selection(), body.Digest)
	s.tellOutcome(w, out, err)
}

func (s *Server) undo(w http.ResponseWriter, r *http.Request) {
	out, err := s.book.undo(context.WithoutCancel(r.Context()))
	s.tellOutcome(w, out, err)
}

func (s *Server) tellOutcome(w http.ResponseWriter, out outcomeView, err error) {
	switch {
	case errors.Is(err, cull.ErrNoJournal), errors.Is(err, errOtherPlan):
		refuse(w, http.StatusConflict, err.Error())
	case errors.Is(err, cull.ErrChoice):
		refuse(w, http.StatusBadRequest, err.Error())
	case err != nil:
		refuse(w, http.StatusInternalServerError, fmt.Sprintf("%v (moved: %d)", err, out.Moved))
	default:
		answer(w, out)
	}
}
