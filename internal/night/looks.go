package night

import (
	"path/filepath"
	"sync"

	"fitsqa/internal/cache"
)

// looks remembers what the pixels of the files below some folders showed, all
// in one entry: a night of a thousand files should not be a thousand entries.
type looks struct {
	store *cache.Store
	key   cache.Key

	mu    sync.Mutex
	known map[cache.Key][]float64 // by file, from the last run
	seen  map[cache.Key][]float64 // and from this one
	asked map[string]cache.Key    // the files that were not known, by path, as they were before the look
	fresh bool                    // a file was looked at anew
}

// newLooks recalls what the last run over these folders saw; nil without a store.
func newLooks(store *cache.Store, roots []string) *looks {
	if store == nil {
		return nil
	}
	k := cache.NewKey("looks")
	for _, root := range roots {
		abs, err := filepath.Abs(root)
		if err != nil {
			return nil
		}
		k.Add(abs)
	}
	l := &looks{store: store, key: k.Key(), seen: map[cache.Key][]float64{}, asked: map[string]cache.Key{}}
	if !store.Get(l.key, &l.known) {
		l.known = nil // half filled, perhaps
	}
	return l
}

// fileKey stands for a file as it is.
func fileKey(path string) (cache.Key, bool) {
	k := cache.NewKey("look")
	err := k.AddFile(path)
	return k.Key(), err == nil
}

// Recall implements frames.Looks.
func (l *looks) Recall(path string) ([]float64, bool) {
	key, ok := fileKey(path)
	if !ok {
		return nil, false
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	numbers, ok := l.known[key]
	if ok {
		l.seen[key] = numbers
	} else {
		l.asked[path] = key
	}
	return numbers, ok
}

// Remember implements frames.Looks, for files that Recall was asked for. What a
// look showed of a file that changed meanwhile is not kept.
func (l *looks) Remember(path string, numbers []float64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	key, ok := l.asked[path]
	if again, still := fileKey(path); ok && still && again == key { // else the file changed while it was looked at
		l.seen[key], l.fresh = numbers, true
	}
}

// save keeps what this run saw, and no more of what is gone.
func (l *looks) save() {
	if l.fresh || len(l.seen) != len(l.known) {
		_ = l.store.Put(l.key, l.seen) // a full disk costs the next run time, and this one nothing
	}
}
