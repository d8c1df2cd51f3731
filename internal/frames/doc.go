// Package frames owns the files on disk: it walks folders, scans FITS headers
// leniently, turns header cards into metadata through one table of synonyms,
// tells bias, dark, flat and sub apart, reads pixels, and groups frames that
// belong together.
//
// Nothing in a file is trusted: sizes are checked against the file before
// anything is allocated, a malformed card costs at most that card's value, and
// a file that cannot be read is a Frame whose Err says why.
//
// Source: FITS Standard 4.0 (IAU FITS Working Group, 2016, updated 2018).
// Pixel centres are at integers, the first pixel is 0,0, x runs along a row
// and y up the rows as stored.
package frames
