package page

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync"
)

//go:embed assets templates
var embedded embed.FS

// kinds are the media types of the files a page loads; the machine's own table
// is not asked, as it may say otherwise or nothing.
var kinds = map[string]string{
	".css":         "text/css; charset=utf-8",
	".js":          "text/javascript; charset=utf-8",
	".svg":         "image/svg+xml",
	".png":         "image/png",
	".txt":         "text/plain; charset=utf-8",
	".webmanifest": "application/manifest+json",
}

// assets are the files a page loads: styles, scripts, pictures. All are served
// in one folder named by a digest of all of them, so that a browser keeps them
// for good, a new binary brings new names, and scripts find each other by plain
// relative names.
type assets struct {
	version string // digest of every file's name and bytes
	names   []string
	byPath  map[string]asset
}

type asset struct {
	kind   string // media type
	body   []byte
	packed []byte // gzipped, where that is smaller
}

func newAssets() (*assets, error) {
	a := &assets{byPath: map[string]asset{}}
	files := map[string]asset{}
	sum := sha256.New()
	err := fs.WalkDir(embedded, "assets", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		kind, ok := kinds[path.Ext(p)]
		if !ok {
			return nil // a note to the developer, not for the browser
		}
		body, err := embedded.ReadFile(p)
		if err != nil {
			return err
		}
		name := strings.TrimPrefix(p, "assets/")
		sum.Write([]byte(name + "\x00" + strconv.Itoa(len(body)) + "\x00"))
		sum.Write(body)
		files[name] = asset{kind, body, packed(body, gzip.BestCompression)}
		a.names = append(a.names, name)
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.Sort(a.names)
	a.version = hex.EncodeToString(sum.Sum(nil)[:8])
	for name, f := range files {
		a.byPath[a.url(name)] = f
	}
	return a, nil
}

// packers are kept: each has tables of most of a megabyte.
var packers = sync.Pool{New: func() any { return gzip.NewWriter(nil) }}

// packed is a body gzipped, or nil where that saves little.
func packed(body []byte, level int) []byte {
	var b bytes.Buffer
	var z *gzip.Writer
	if level == gzip.DefaultCompression {
		z = packers.Get().(*gzip.Writer)
		defer packers.Put(z)
		z.Reset(&b)
	} else {
		z, _ = gzip.NewWriterLevel(&b, level)
	}
	_, _ = z.Write(body)
	if z.Close() != nil || b.Len() > len(body)*9/10 {
		return nil
	}
	return b.Bytes()
}

// url is where the asset of a name is served; "" where there is none.
func (a *assets) url(name string) string {
	if !slices.Contains(a.names, name) {
		return ""
	}
	return "/a/" + a.version + "/" + name
}

func (a *assets) routes(m *http.ServeMux) {
	m.HandleFunc("GET /a/", func(w http.ResponseWriter, r *http.Request) {
		f, ok := a.byPath[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		h := w.Header()
		h.Set("Content-Type", f.kind)
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
		body := f.body
		if f.packed != nil {
			h.Set("Vary", "Accept-Encoding")
			if takesGzip(r) {
				h.Set("Content-Encoding", "gzip")
				body = f.packed
			}
		}
		h.Set("Content-Length", strconv.Itoa(len(body)))
		_, _ = w.Write(body)
	})
}

// takesGzip says whether the asker reads gzip.
func takesGzip(r *http.Request) bool {
	for _, e := range strings.Split(r.Header.Get("Accept-Encoding"), ",") {
		name, q, _ := strings.Cut(strings.TrimSpace(e), ";")
		if strings.EqualFold(name, "gzip") && strings.ReplaceAll(q, " ", "") != "q=0" {
			return true
		}
	}
	return false
}
