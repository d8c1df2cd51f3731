package review

import (
	"errors"
	"math"
	"net/http"
	"strconv"
)

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
