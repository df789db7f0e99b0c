package wheel

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
)

// MaxPhotoBytes is the most a photo may take: a picture of a rind 1024 pixels
// long as a JPEG takes about 100 kB.
const MaxPhotoBytes = 300_000

// Photo names the picture that goes with a note: the picture itself is kept
// beside the entries, under the digest of its bytes.
type Photo struct {
	SHA256 string `json:"photo_sha256"` // lower-case hexadecimal (FIPS 180-4)
	Bytes  int    `json:"bytes"`
	Width  int    `json:"width_px"`
	Height int    `json:"height_px"`
}

// PhotoOf names a picture of the given size in pixels.
func PhotoOf(jpeg []byte, width, height int) Photo {
	sum := sha256.Sum256(jpeg)
	return Photo{hex.EncodeToString(sum[:]), len(jpeg), width, height}
}

// Detail is the photo as a note carries it.
func (p Photo) Detail() string {
	b, err := json.Marshal(p)
	if err != nil {
		return "" // of text and whole numbers, which always can be written
	}
	return string(b)
}

// errPhoto is a detail of a note that names no photo.
var errPhoto = errors.New("a note whose photo is not named as it should be")

// ParsePhoto reads what Detail wrote.
func ParsePhoto(detail string) (Photo, error) {
	var p Photo
	if err := json.Unmarshal([]byte(detail), &p); err != nil {
		return p, errPhoto
	}
	if sum, err := hex.DecodeString(p.SHA256); err != nil || len(sum) != sha256.Size || p.Detail() != detail || p.Bytes <= 0 || p.Bytes > MaxPhotoBytes || p.Width <= 0 || p.Height <= 0 {
		return p, errPhoto
	}
	return p, nil
}
