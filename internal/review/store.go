package review

import (
	"slices"
	"sync"
)

// pictureMemory is how many bytes of decoded pictures are kept, two at least:
// the one on the screen and the one after it.
const pictureMemory = 400 << 20

// store keeps the pictures that were looked at last, each read once.
type store struct {
	mu      sync.Mutex
	entries map[int]*entry
	used    []int // the last used last
}

type entry struct {
	once sync.Once
	p    *picture
	err  error
	done bool // guarded by the store
}

func newStore() *store { return &store{entries: map[int]*entry{}} }

// get is sub i's picture, read by read if it is not kept. What cannot be read is
// tried again the next time.
func (st *store) get(i int, read func() (*picture, error)) (*picture, error) {
	st.mu.Lock()
	e := st.entries[i]
	if e == nil {
		e = &entry{}
		st.entries[i] = e
	}
	st.used = append(slices.DeleteFunc(st.used, func(j int) bool { return j == i }), i)
	st.mu.Unlock()

	e.once.Do(func() { e.p, e.err = read() })

	st.mu.Lock()
	defer st.mu.Unlock()
	e.done = true
	if e.err != nil && st.entries[i] == e {
		st.drop(i)
	}
	st.shrink()
	return e.p, e.err
}

func (st *store) drop(i int) {
	delete(st.entries, i)
	st.used = slices.DeleteFunc(st.used, func(j int) bool { return j == i })
}

// shrink drops the pictures used longest ago until the rest fits.
func (st *store) shrink() {
	total := int64(0)
	for k := len(st.used) - 1; k >= 0; k-- {
		e := st.entries[st.used[k]]
		if !e.done {
			continue
		}
		total += e.p.bytes()
		if total > pictureMemory && len(st.used)-k > 2 {
			for _, i := range slices.Clone(st.used[:k+1]) {
				if st.entries[i].done {
					st.drop(i)
				}
			}
			return
		}
	}
}
