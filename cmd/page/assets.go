package page

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
)

//go:embed assets templates
var embedded embed.FS

// assets are the files a page loads: styles, scripts, pictures. Each is served
// under a name that carries a digest of its bytes, so that a browser keeps it
// for good and a new binary brings new names.
type assets struct {
	byName map[string]string // name in assets/ -> path it is served at
	byPath map[string]asset
}

type asset struct {
	kind string // media type
	body []byte
}

func newAssets() (*assets, error) {
	a := &assets{byName: map[string]string{}, byPath: map[string]asset{}}
	err := fs.WalkDir(embedded, "assets", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := embedded.ReadFile(p)
		if err != nil {
			return err
		}
		name := strings.TrimPrefix(p, "assets/")
		ext := path.Ext(name)
		sum := sha256.Sum256(body)
		at := "/a/" + strings.TrimSuffix(name, ext) + "-" + hex.EncodeToString(sum[:6]) + ext
		a.byName[name] = at
		a.byPath[at] = asset{mime.TypeByExtension(ext), body}
		return nil
	})
	return a, err
}

// url is where the asset of a name is served.
func (a *assets) url(name string) string { return a.byName[name] }

func (a *assets) routes(m *http.ServeMux) {
	m.HandleFunc("GET /a/", func(w http.ResponseWriter, r *http.Request) {
		f, ok := a.byPath[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", f.kind)
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		_, _ = w.Write(f.body)
	})
}
