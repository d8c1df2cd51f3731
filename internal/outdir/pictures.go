package outdir

import (
	"crypto/sha256"
	"encoding/hex"
	"regexp"
)

// PicturesDir is the folder of the pictures of a page that would be too large with
// them. They are named for what they hold, so that a page finds its own pictures
// and no others, whichever run a kill leaves it of.
const PicturesDir = "pictures"

var pictureName = regexp.MustCompile(`^[0-9a-f]{24}\.jpg$`)

// PictureName names a JPEG by the beginning of its SHA-256.
func PictureName(jpg []byte) string {
	sum := sha256.Sum256(jpg)
	return hex.EncodeToString(sum[:12]) + ".jpg"
}

// IsPictureName tells whether a file's name may be one that PictureName gave.
func IsPictureName(name string) bool { return pictureName.MatchString(name) }
