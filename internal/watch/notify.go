package watch

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/fsnotify/fsnotify"
)

// silence never says anything.
var silence <-chan struct{}

// notifier passes on the system's word that something changed below some folders.
type notifier struct {
	system  *fsnotify.Watcher
	changed chan struct{} // holds one word at most
}

// notify asks for word of changes below the folders, and below those that come.
func notify(roots []string) (*notifier, error) {
	system, err := fsnotify.NewWatcher()
	if err != nil {
		return nil, err
	}
	n := &notifier{system, make(chan struct{}, 1)}
	for _, root := range roots {
		if err := n.add(root); err != nil {
			return nil, errors.Join(err, system.Close())
		}
	}
	go n.listen()
	return n, nil
}

// add asks for a folder and all below it.
func (n *notifier) add(root string) error {
	return filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.IsDir() {
			return nil // looks at the folder tell of what cannot be opened
		}
		return n.system.Add(path)
	})
}

// listen ends when the watcher is closed. What was missed is found by the next
// look all the same.
func (n *notifier) listen() {
	for {
		select {
		case e, open := <-n.system.Events:
			if !open {
				return
			}
			if e.Has(fsnotify.Create) {
				if info, err := os.Lstat(e.Name); err == nil && info.IsDir() {
					_ = n.add(e.Name) // as above
				}
			}
		case _, open := <-n.system.Errors:
			if !open {
				return
			}
		}
		select {
		case n.changed <- struct{}{}:
		default:
		}
	}
}

func (n *notifier) close() { _ = n.system.Close() } // nothing is left to do

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}
