package wheel

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"

	"rindkeep/cave/reason"
)

// MaxPhotoBytes is the largest size of a photo: our choice. A JPEG of a rind, 1024 pixels
// long, takes about 100 kB.
const MaxPhotoBytes = 300_000

// Photo refers to the picture of a note, which is stored beside the entries under
// the digest of its bytes.
type Photo struct {
	SHA256 string `json:"photo_sha256"` // lower-case hexadecimal (FIPS 180-4)
	Bytes  int    `json:"bytes"`
	Width  int    `json:"width_px"`
	Height int    `json:"height_px"`
}

// PhotoOf refers to a picture of the given size in pixels.
func PhotoOf(jpeg []byte, width, height int) Photo {
	sum := sha256.Sum256(jpeg)
	return Photo{hex.EncodeToString(sum[:]), len(jpeg), width, height}
}

// Detail is the photo as a note's Detail holds it.
func (p Photo) Detail() string { return encodeDetail(p) }

var errPhoto = reason.Err(reason.Flat("broken-photo"))

// ParsePhoto reads what Detail wrote.
func ParsePhoto(detail string) (Photo, error) {
	var p Photo
	if err := json.Unmarshal([]byte(detail), &p); err != nil {
		return p, errPhoto
	}
	sum, err := hex.DecodeString(p.SHA256)
	if err != nil || len(sum) != sha256.Size || p.Detail() != detail ||
		p.Bytes <= 0 || p.Bytes > MaxPhotoBytes || p.Width <= 0 || p.Height <= 0 {
		return p, errPhoto
	}
	return p, nil
}
