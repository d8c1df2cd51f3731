// Command generate makes the catalogue's file from the star positions and
// magnitudes in a Debian package of Tycho-2 data, which it reads as a FITS
// file of three tables; it uses nothing else of the package.
//
//	go run ./generate -package astrometry-data-tycho2-07-littleendian -out tycho2.bin
//	go run ./generate -data index-tycho2-07.littleendian.fits -out tycho2.bin
//
// With -package it fetches the package by apt-get download and unpacks it with
// dpkg-deb, into a temporary folder; with -data it reads the file that is there.
package main

import (
	"encoding/binary"
	"errors"
	"flag"
	"fmt"
	"log"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"fitsqa/internal/catalogue"
)

func main() {
	log.SetFlags(0)
	pkg := flag.String("package", "", "Debian package to fetch")
	data := flag.String("data", "", "file of the package, when it is there already")
	out := flag.String("out", "tycho2.bin", "file to write")
	flag.Parse()
	if err := generate(*pkg, *data, *out); err != nil {
		log.Fatal(err)
	}
}

func generate(pkg, data, out string) error {
	if data == "" {
		dir, err := os.MkdirTemp("", "catalogue")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		if data, err = fetch(dir, pkg); err != nil {
			return err
		}
	}
	raw, err := os.ReadFile(data)
	if err != nil {
		return err
	}
	stars, err := read(raw)
	if err != nil {
		return fmt.Errorf("%s: %w", data, err)
	}
	packed, err := catalogue.Pack(stars)
	if err != nil {
		return err
	}
	fmt.Printf("%d stars, %d bytes\n", len(stars), len(packed))
	return os.WriteFile(out, packed, 0o644)
}

// fetch gets and unpacks the package and finds its data file.
func fetch(dir, pkg string) (string, error) {
	if pkg == "" {
		return "", errors.New("neither -package nor -data")
	}
	get := exec.Command("apt-get", "download", pkg)
	get.Dir = dir
	if text, err := get.CombinedOutput(); err != nil {
		return "", fmt.Errorf("%w: %s", err, text)
	}
	debs, _ := filepath.Glob(filepath.Join(dir, "*.deb"))
	if len(debs) != 1 {
		return "", fmt.Errorf("%d packages came", len(debs))
	}
	if text, err := exec.Command("dpkg-deb", "-x", debs[0], filepath.Join(dir, "x")).CombinedOutput(); err != nil {
		return "", fmt.Errorf("%w: %s", err, text)
	}
	files, _ := filepath.Glob(filepath.Join(dir, "x/usr/share/*/*.fits"))
	if len(files) != 1 {
		return "", fmt.Errorf("%d data files in the package", len(files))
	}
	return files[0], nil
}

// read takes stars out of the tables: unit vectors as three little-endian uint32 each,
// their range as seven little-endian doubles (least and largest of each axis, steps per
// unit), and magnitudes as big-endian float32 in the same order.
func read(raw []byte) ([]catalogue.Star, error) {
	t := tables(raw)
	vectors, span, mags := t["kdtree_data_stars"], t["kdtree_range_stars"], t["MAG_VT"]
	n := len(vectors) / 12
	if n == 0 || len(span) < 56 || len(mags) < 4*n {
		return nil, errors.New("the tables of stars, range and magnitudes are not all there")
	}
	bound := func(i int) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(span[8*i:])) }
	scale := bound(6)
	stars := make([]catalogue.Star, n)
	for i := range stars {
		var v [3]float64
		for k := range v {
			v[k] = bound(k) + float64(binary.LittleEndian.Uint32(vectors[12*i+4*k:]))/scale
		}
		if l := math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2]); !(math.Abs(l-1) < 1e-6) {
			return nil, fmt.Errorf("star %d: a direction of length %g", i, l)
		}
		ra := math.Mod(math.Atan2(v[1], v[0])*180/math.Pi+360, 360)
		dec := math.Atan2(v[2], math.Hypot(v[0], v[1])) * 180 / math.Pi
		mag := math.Float32frombits(binary.BigEndian.Uint32(mags[4*i:]))
		stars[i] = catalogue.Star{RA: ra, Dec: dec, Mag: float64(mag)}
	}
	return stars, nil
}

// tables are the data of a FITS file's units by the name of their one column.
func tables(raw []byte) map[string][]byte {
	list := map[string][]byte{}
	for at := 0; at < len(raw); {
		keys, header := header(raw[at:])
		if header == 0 {
			break
		}
		size := number(keys, "NAXIS1") * number(keys, "NAXIS2")
		at += header
		if size < 0 || size > len(raw)-at {
			break
		}
		list[keys["TTYPE1"]] = raw[at : at+size]
		at += (size + 2879) / 2880 * 2880
	}
	return list
}

func number(keys map[string]string, name string) int {
	n, _ := strconv.Atoi(keys[name])
	return n
}

// header gives the cards of a unit and the length of its header, 0 when it has no end.
func header(raw []byte) (map[string]string, int) {
	keys := map[string]string{}
	for at := 0; at+80 <= len(raw); at += 80 {
		card := string(raw[at : at+80])
		if strings.TrimSpace(card) == "END" {
			return keys, (at + 80 + 2879) / 2880 * 2880
		}
		if card[8] == '=' {
			value, _, _ := strings.Cut(card[10:], "/")
			keys[strings.TrimSpace(card[:8])] = strings.Trim(value, "' ")
		}
	}
	return nil, 0
}
