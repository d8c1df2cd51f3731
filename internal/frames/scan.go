package frames

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
)

// ScanOptions steers Scan; take DefaultScanOptions and change what you need.
type ScanOptions struct {
	Workers  int                   // files read at once
	MaxBytes int64                 // largest decoded image accepted
	Memory   int64                 // most bytes that working on one frame may take; 0: any. A frame that needs more is refused before it is read
	Skip     []string              // folders never entered (the output folder)
	SkipName []string              // folders of these names, below the scanned ones, are left out: what was set aside
	LeftOut  func(folder string)   // called for each folder left out by name, by its slash-separated path; may be nil
	Progress func(done, total int) // called from one goroutine at a time; may be nil
	Looks    Looks                 // looks at pixels from earlier scans; may be nil
}

// Looks remembers what the look at a file's pixels showed, in numbers that mean
// something to this package only. Its methods are called from several
// goroutines. Recall must answer for the file as it is now; Remember follows a
// Recall of the same path that knew nothing.
type Looks interface {
	Recall(path string) (numbers []float64, ok bool)
	Remember(path string, numbers []float64)
}

// DefaultScanOptions is what the command line starts from.
var DefaultScanOptions = ScanOptions{Workers: 2, MaxBytes: 2 << 30, SkipName: []string{"culled"}}

// Scan walks the folders and reads every FITS header below them: one Frame a
// file, sorted by Name, with kind and metadata settled. A file that cannot be
// read is a Frame with Err; only a root folder that cannot be opened, or ctx,
// is an error.
func Scan(ctx context.Context, roots []string, opt ScanOptions) ([]*Frame, error) {
	fs, err := List(ctx, roots, opt)
	if err != nil {
		return nil, err
	}
	if err := ReadHeaders(ctx, fs, opt); err != nil {
		return nil, err
	}
	Settle(fs)
	return fs, nil
}

// List walks the folders and gives one Frame, unread, for every FITS file below
// them, sorted by Name; errors as of Scan.
func List(ctx context.Context, roots []string, opt ScanOptions) ([]*Frame, error) {
	return walk(ctx, roots, opt)
}

// ReadHeaders reads the header and a few pixels of each listed frame, by itself; only ctx
// is an error, and a file that cannot be read has its Err.
func ReadHeaders(ctx context.Context, fs []*Frame, opt ScanOptions) error {
	var next, done atomic.Int64
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range max(1, opt.Workers) {
		wg.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= len(fs) {
					return
				}
				fs[i].scan(opt)
				if n := int(done.Add(1)); opt.Progress != nil {
					mu.Lock()
					opt.Progress(n, len(fs))
					mu.Unlock()
				}
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}

// Settle decides what frames that were read tell of each other: once, of frames
// that will be looked at together.
func Settle(fs []*Frame) {
	settleZeros(fs)
	settleParts(fs)
	filtersFromNames(fs)
	targetsFromFolders(fs)
	oneSpelling(fs)
	camerasBySize(fs)
	readoutModes(fs)
	settleDates(fs)
	settleMilliseconds(fs)
	evenLights(fs)
	starlessSubs(fs)
	miscalled(fs)
	partsOfOne(fs)
	markProducts(fs)
	lightless(fs)
}

// Clone is a frame of its own, to be settled among others.
func (f *Frame) Clone() *Frame {
	c := *f
	c.Findings = slices.Clone(f.Findings)
	return &c
}

// scan reads the frame's header and a few of its pixels.
func (f *Frame) scan(opt ScanOptions) {
	defer CatchPanic(&f.Err)
	f.scanUnguarded(opt)
}

func (f *Frame) scanUnguarded(opt ScanOptions) {
	f.Meta = NoMeta()
	if f.Err != nil {
		return
	}
	f.maxBytes = opt.MaxBytes
	var headerKind string
	err := Again(func() (err error) {
		f.Meta, f.Image, f.Findings = NoMeta(), Layout{}, nil
		headerKind, err = f.scanFile(opt)
		return err
	})
	if err != nil {
		// The row should still say what the file was meant to be.
		f.Err = err
		f.classify(headerKind, f.folders)
	}
}

func (f *Frame) scanFile(opt ScanOptions) (headerKind string, err error) {
	s, err := openSource(f.Path)
	if err != nil {
		return headerKind, err
	}
	defer s.Close()
	u, warnings, err := locate(s, f.maxBytes)
	if err != nil {
		return headerKind, err
	}
	f.warnOf(warnings)
	f.warnOf(u.sections(&f.Meta))
	f.Image = u.layout(s)
	f.warnOf(u.meta(&f.Meta))
	f.settingsFromName()
	headerKind = (&lookup{h: u.header}).kindText()
	f.headerKind = headerKind
	if f.objectKind = kindAlone(string(f.Meta.Target)); f.objectKind != Unknown {
		f.Meta.Target = ""
	}
	f.dispersed = (&lookup{h: u.header}).dispersed()
	if err := u.fits(f.maxBytes); err != nil {
		return headerKind, err
	}
	if need := f.Image.workBytes(); opt.Memory > 0 && need > opt.Memory {
		return headerKind, &UnsupportedError{fmt.Sprintf("working on its image of %d x %d pixels takes %d MiB, and one frame may take %d MiB (--memory)",
			u.width, u.height, need>>20, opt.Memory>>20)}
	}
	notes, err := u.arrived(s)
	if err != nil {
		return headerKind, err
	}
	f.warnOf(notes)
	if err := f.lookAtPixels(opt.Looks); err != nil {
		return headerKind, err
	}
	f.checkZero(u)
	f.classify(headerKind, f.folders)
	f.checkBayer()
	f.Master = isMaster(u.header, headerKind, f.base(), f.Kind)
	return headerKind, nil
}

// lookAtPixels recalls the look at the pixels, or takes it. For that it opens
// the file once more: the first pass has consumed it.
func (f *Frame) lookAtPixels(known Looks) error {
	if known != nil {
		if numbers, ok := known.Recall(f.Path); ok && f.look.recall(numbers) {
			return nil
		}
	}
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close()
	if err := f.takeLook(r, f.unnamed()); err != nil {
		return err
	}
	if known != nil && f.look.taken {
		known.Remember(f.Path, f.look.numbers())
	}
	return nil
}

// kindText is what the header calls the frame; of several keywords the first
// that names a kind.
func (l *lookup) kindText() (text string) {
	first := ""
	l.cards(synonyms.kind, func(k keyword, c card) bool {
		if isDigits(c.value) && k.name != "PICTTYPE" {
			return false
		}
		text, first = c.value, cmp.Or(first, c.value)
		return kindOf(text, true) != Unknown
	})
	if kindOf(text, true) != Unknown {
		return text
	}
	for _, c := range l.h.cards {
		if misspelt := oneSlip(c.key, "IMAGETYP") || oneSlip(c.key, "FRAMETYP"); misspelt && !isDigits(c.value) && kindOf(c.value, true) != Unknown {
			return c.value
		}
	}
	return first
}

// oneSlip tells whether one letter too many, too few, wrong, or two exchanged part a
// from b.
func oneSlip(a, b string) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	n := 0
	for n < len(a) && a[n] == b[n] {
		n++
	}
	switch restA, restB := a[n:], b[n:]; {
	case len(a)+1 == len(b):
		return restA == restB[1:]
	case len(a) != len(b) || n == len(a):
		return false
	case len(restA) > 1 && restA[0] == restB[1] && restA[1] == restB[0]:
		return restA[2:] == restB[2:]
	default:
		return restA[1:] == restB[1:]
	}
}

// oneSpelling gives every target, filter and camera of the scan the spelling
// that the first frame has, so that the same names are equal from here on.
func oneSpelling(fs []*Frame) {
	targets, filters, cameras := names.First{}, names.First{}, names.First{}
	for _, f := range fs {
		m := &f.Meta
		m.Target, m.Filter, m.Camera = targets.Of(m.Target), oneFilter(filters, m.Filter), cameras.Of(m.Camera)
	}
}

// oneFilter is the spelling of a filter that came first: "H-alpha" is "Ha", "Lum" is "L".
func oneFilter(first names.First, n names.Name) names.Name {
	f, usual := n.Filter()
	if !usual {
		return first.Of(n)
	}
	if _, met := first[f.Name.Key()]; !met {
		first[f.Name.Key()] = n
	}
	return first[f.Name.Key()]
}

// lightless marks lights that are no brighter than the darks or biases of
// their camera: the shutter or the cap stayed shut.
func lightless(fs []*Frame) {
	type settings struct {
		camera       names.Name
		w, h, binX   int
		gain, offset string
		readout      names.Name
	}
	of := func(f *Frame) settings {
		return settings{f.Meta.Camera, f.Image.Width, f.Image.Height, f.Meta.BinX, fmt.Sprint(f.Meta.GainSetting), fmt.Sprint(f.Meta.OffsetSetting), f.Meta.ReadoutMode}
	}
	shut := map[settings]*Frame{}
	for _, f := range fs {
		if f.Err == nil && (f.Kind == Bias || f.Kind == Dark) && f.look.taken && !f.look.starry() {
			if old := shut[of(f)]; old == nil || f.look.median < old.look.median {
				shut[of(f)] = f
			}
		}
	}
	for _, f := range fs {
		d := shut[of(f)]
		if f.Err != nil || f.Kind != Light || d == nil || !f.look.taken || f.look.starry() {
			continue
		}
		if f.look.median < d.look.median+0.5*d.look.spread {
			f.warn(LightUnlit, fact.Text("than", Printable(d.Name)))
		}
	}
}

var errRoot = errors.New("cannot open the folder")
