package frames

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
)

const (
	blockLen = 2880
	// maxHeaderBlocks bounds one header: 36 000 cards, far above what any
	// camera, plate solver or stacking history writes.
	maxHeaderBlocks = 1000
)

// header is the cards of one header unit, in order.
type header struct {
	cards   []card
	first   map[string]int // where a keyword with a value stands first
	history []string
	sum     onesSum // of the bytes, padding included
}

// errHeaderCut says that the bytes end before a header does.
var errHeaderCut = &FormatError{"the file ends inside a header, before its END"}

// readHeader reads header blocks up to and with the one that holds END. io.EOF
// means that there was nothing. With an error comes a header only when the
// bytes began like one.
func readHeader(r io.Reader) (*header, error) {
	h := &header{first: map[string]int{}}
	block := make([]byte, blockLen)
	for n := range maxHeaderBlocks {
		got, err := io.ReadFull(r, block)
		if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
			return nil, err
		}
		if got == 0 && n == 0 {
			return nil, io.EOF
		}
		if n == 0 {
			if err := checkFirstCard(block[:got]); err != nil {
				return nil, err
			}
		}
		h.sum.Write(block[:got])
		if h.addBlock(block[:got]) {
			return h, nil
		}
		if err != nil {
			return h, errHeaderCut
		}
	}
	return h, &FormatError{fmt.Sprintf("no END in %d header blocks", maxHeaderBlocks)}
}

// checkFirstCard refuses early what is no header, before it is searched for END.
func checkFirstCard(block []byte) error {
	if len(block) < cardLen {
		return &FormatError{fmt.Sprintf("not a FITS file: only %d bytes", len(block))}
	}
	c := parseCard(block[:cardLen])
	if c.long || !c.valued || c.key != "SIMPLE" && c.key != "XTENSION" {
		return &FormatError{"not a FITS file: the first card is neither SIMPLE nor XTENSION"}
	}
	return nil
}

// addBlock parses the cards of one block and tells whether END came.
func (h *header) addBlock(block []byte) bool {
	for len(block) >= cardLen {
		line := block[:cardLen]
		block = block[cardLen:]
		if bytes.HasPrefix(line, []byte("END")) && len(bytes.TrimSpace(line[3:])) == 0 {
			return true
		}
		h.add(parseCard(line))
	}
	return false
}

func (h *header) add(c card) {
	switch {
	case c.key == "CONTINUE":
		h.continueString(c)
		return
	case c.key == "HISTORY" || c.key == "COMMENT":
		if t := strings.TrimSpace(c.value); t != "" {
			h.history = append(h.history, t)
		}
		return
	case !c.valued:
		return
	}
	if _, known := h.first[c.key]; !known {
		h.first[c.key] = len(h.cards)
	}
	h.cards = append(h.cards, c)
}

// continueString adds the text of a CONTINUE card to the string before it,
// when that string asks for it; else the card is a remark without meaning.
func (h *header) continueString(c card) {
	if len(h.cards) == 0 {
		return
	}
	last := &h.cards[len(h.cards)-1]
	rest := strings.TrimLeft(c.value, " ")
	if !last.open || rest == "" || rest[0] != '\'' {
		return
	}
	const maxString = 10000
	text, after := quotedText(rest)
	if len(last.value) < maxString {
		last.value = strings.TrimSuffix(last.value, "&") + strings.TrimRight(text, " ")
	}
	last.open = strings.HasSuffix(last.value, "&")
	if last.comment == "" {
		last.comment = afterSlash(after)
	}
}

// get is the card of a keyword that may also be a HIERARCH name; the first one
// wins when a keyword stands twice.
func (h *header) get(key string) (card, bool) {
	i, ok := h.first[key]
	if !ok {
		return card{}, false
	}
	return h.cards[i], true
}

func (h *header) all(key string) []card {
	i, ok := h.first[key]
	if !ok {
		return nil
	}
	var found []card
	for _, c := range h.cards[i:] {
		if c.key == key {
			found = append(found, c)
		}
	}
	return found
}

// structural is the card of a mandatory keyword: HIERARCH cards do not count.
func (h *header) structural(key string) (card, bool) {
	for _, c := range h.all(key) {
		if !c.long {
			return c, true
		}
	}
	return card{}, false
}

// integer is a structural integer; a missing one takes the default.
func (h *header) integer(key string, missing int64) (int64, error) {
	c, ok := h.structural(key)
	if !ok || c.value == "" && !c.quoted {
		return missing, nil
	}
	n, ok := wholeNumber(c.value)
	if !ok {
		return 0, &FormatError{fmt.Sprintf("%s is not a whole number: %q", key, Printable(c.value))}
	}
	return n, nil
}

// number is a structural number such as BZERO; a missing one takes the default.
func (h *header) number(key string, missing float64) (float64, error) {
	c, ok := h.structural(key)
	if !ok || c.value == "" {
		return missing, nil
	}
	v, _, ok := parseNumber(c.value)
	if !ok {
		return 0, &FormatError{fmt.Sprintf("%s is not a number: %q", key, Printable(c.value))}
	}
	return v, nil
}

// truth is a logical value; T, t, .TRUE. and 'T' are all true.
func (h *header) truth(key string) (value, known bool) {
	c, ok := h.structural(key)
	if !ok {
		return false, false
	}
	switch strings.ToUpper(strings.Trim(c.value, ". ")) {
	case "T", "TRUE":
		return true, true
	case "F", "FALSE":
		return false, true
	}
	return false, false
}

func padded(n int64) int64 { return (n + blockLen - 1) / blockLen * blockLen }
