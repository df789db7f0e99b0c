package cli

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rindkeep/cmd/app/photo"
	"rindkeep/wheel"
)

// jpegOf is an invented JPEG of w by h pixels.
func jpegOf(t testing.TB, w, h int) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for x := range w {
		for y := range h {
			m.Set(x, y, color.RGBA{uint8(x * 7), uint8(y * 5), uint8(x * y), 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestAPhotoGoesWithANoteAndComesOutAsItWentIn(t *testing.T) {
	w := newWorld(t).kept()
	jpg := jpegOf(t, 64, 48)
	file := w.file("crack.jpg", string(jpg))
	w.must("wheel note 261110A-02 crack --photo " + file)
	w.must("make note 261110A odd-curd --photo " + file)
	if out := w.must("wheel show 261110A-02"); !strings.Contains(out, "photo; crack") {
		t.Errorf("the card does not name the photo:\n%s", out)
	}
	for _, of := range []string{"wheel show 261110A-02", "make show 261110A"} {
		out := w.must(of)
		if !strings.Contains(out, "photos (rindkeep wheel photo 261110A") || !strings.Contains(out, "64 x 48") {
			t.Errorf("%s does not list the photo:\n%s", of, out)
		}
	}
	var card struct {
		Entries []struct{ What, Mark, Detail string }
	}
	w.doc(&card, "wheel show 261110A-02")
	note := card.Entries[len(card.Entries)-1]
	if note.Detail != "photo" {
		t.Fatalf("the note's entry is %+v", note)
	}
	entry := "261110A-02:" + note.Mark
	same(t, "the picture", w.must("wheel photo "+entry+" --out -"), string(jpg))
	out := filepath.Join(w.dir, "out.jpg")
	if got, want := w.must("wheel photo "+entry+" --out "+out), "64 x 48 pixels"; !strings.Contains(got, want) {
		t.Errorf("said %q, want %q in it", got, want)
	}
	got, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the file", string(got), string(jpg))
	w.want(exitRefused, "is there already", "wheel", "photo", entry, "--out", out)
	w.must("wheel photo " + entry + " --replace --out " + out)
	w.want(exitRefused, "is something else", "wheel", "photo", entry, "--replace", "--out", w.book)
	w.want(exitRefused, "isn't a note with a photo", "wheel", "photo", "261110A-02:"+card.Entries[0].Mark, "--out", "-")
	w.sound()

	export, second := filepath.Join(w.dir, "a.jsonl"), filepath.Join(w.dir, "second.book")
	w.must("book export " + export)
	w.must("book import " + export + " --book " + second)
	same(t, "the picture of the book imported", w.must("wheel photo "+entry+" --out - --book "+second), string(jpg))
}

func TestWhatIsNoPhotoIsRefusedAndNothingKept(t *testing.T) {
	w := newWorld(t).kept()
	before := w.must("log --json")
	for _, c := range []struct{ name, content, want string }{
		{"text", "not a picture", "that isn't a photo: send a JPEG, PNG or WebP picture"},
		{"heic", "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", "save it as JPEG"},
		{"nothing", "", "that isn't a photo"},
		{"a beginning without an end of its frame", string(jpegOf(t, 64, 48)[:20]), "that isn't a photo"},
		{"too large", strings.Repeat("x", photo.MostBytes+1), "a photo of 33554 kB is too large"},
	} {
		w.want(exitRefused, c.want, "wheel", "note", "261110A-02", "crack", "--photo", w.file("p.jpg", c.content))
	}
	w.want(exitRefused, "cannot read .*: it is not there", "wheel", "note", "261110A-02", "crack", "--photo",
		filepath.Join(w.dir, "none.jpg"))
	same(t, "the log", w.must("log --json"), before)
}

func TestAPhotoTooLargeForTheBookIsMadeSmaller(t *testing.T) {
	w := newWorld(t).kept()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 3000, 2000)), nil); err != nil {
		t.Fatal(err)
	}
	w.must("wheel note 261110A-02 crack --photo " + w.file("crack.jpg", b.String()))
	var card struct {
		Photos []struct {
			Mark, Note string
			wheel.Photo
		}
	}
	w.doc(&card, "wheel show 261110A-02")
	if p := card.Photos; len(p) != 1 || p[0].Width != 1600 || p[0].Height != 1066 || p[0].Note != "crack" {
		t.Errorf("the card has %+v", card.Photos)
	}
	w.sound()
}
