package review

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"

	"fitsqa/internal/cull"
)

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

// maxAsked bounds what a page may send, bytes: a mark on each of ten thousand
// subs is a tenth of it.
const maxAsked = 2 << 20

func asked(w http.ResponseWriter, r *http.Request, into any) bool {
	d := json.NewDecoder(io.LimitReader(r.Body, maxAsked))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		refuse(w, http.StatusBadRequest, "not understood: "+err.Error())
		return false
	}
	return true
}
