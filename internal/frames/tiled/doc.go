// Package tiled unpacks tile-compressed images: the binary tables in which an
// image's rectangular tiles are compressed one by one. A Reader delivers the
// samples of the image as if it had never been compressed: big-endian, row
// after row, plane after plane.
//
// Source: FITS Standard 4.0 (2016, updated 2018), section 10. Read are RICE_1
// for samples of 8, 16 and 32 bits, GZIP_1, GZIP_2 and uncompressed tiles;
// floating-point samples quantised to integers with NO_DITHER,
// SUBTRACTIVE_DITHER_1 and SUBTRACTIVE_DITHER_2, or kept as they are; tiles
// of any shape. H-compress and PLIO are refused.
//
// Nothing is believed: every length is checked against the bytes that are
// there, and no tile is unpacked to more than its own pixels.
package tiled
