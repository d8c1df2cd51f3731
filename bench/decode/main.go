// Command decode is the floor of the speed measurement: it reads 16-bit FITS
// files and decodes their samples into reused buffers, and does nothing else.
//
//	decode [-workers 2] FILE...
//
// It prints the seconds it took. It trusts its input: only frames that the
// measurement's own generator wrote go in.
package main

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"sync"
	"time"
)

const block = 2880 // bytes, FITS Standard 4.0 section 3.1

func main() {
	workers := flag.Int("workers", 2, "files read at once")
	flag.Parse()
	begin := time.Now()
	paths := make(chan string)
	var wg sync.WaitGroup
	for range *workers {
		wg.Go(func() { decodeAll(paths) })
	}
	for _, p := range flag.Args() {
		paths <- p
	}
	close(paths)
	wg.Wait()
	fmt.Printf("%.6f\n", time.Since(begin).Seconds())
}

func decodeAll(paths <-chan string) {
	var raw []byte
	var samples []uint16
	for p := range paths {
		f, err := os.Open(p)
		if err != nil {
			log.Fatal(err)
		}
		info, err := f.Stat()
		if err != nil {
			log.Fatal(err)
		}
		if int64(cap(raw)) < info.Size() {
			raw = make([]byte, info.Size())
			samples = make([]uint16, info.Size()/2)
		}
		raw = raw[:info.Size()]
		if _, err := io.ReadFull(f, raw); err != nil {
			log.Fatal(err)
		}
		f.Close()
		decode(samples, raw[dataStart(raw):])
	}
}

// dataStart is the offset of the block after the one that holds the END card.
func dataStart(raw []byte) int {
	for i := 0; i+block <= len(raw); i += block {
		for card := i; card < i+block; card += 80 {
			if bytes.HasPrefix(raw[card:], []byte("END     ")) {
				return i + block
			}
		}
	}
	log.Fatal("no END card")
	return 0
}

// decode turns big-endian samples with BZERO 32768 into whole numbers from 0 to 65535.
func decode(dst []uint16, src []byte) {
	dst = dst[:len(src)/2]
	for i := range dst {
		s := src[2*i : 2*i+2 : 2*i+2]
		dst[i] = (uint16(s[0])<<8 | uint16(s[1])) ^ 0x8000
	}
}
