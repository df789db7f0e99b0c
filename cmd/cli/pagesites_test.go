package cli

import (
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A running page exchanges by itself, and says so, or why it can't.
func TestTheRunningPageExchanges(t *testing.T) {
	w := newWorld(t).kept()
	stick, pocket := filepath.Join(w.dir, "stick"), filepath.Join(w.dir, "pocket")
	if err := os.Mkdir(stick, 0o755); err != nil {
		t.Fatal(err)
	}
	south := " --quiet --book " + filepath.Join(w.dir, "south.book")
	w.must("sites found north --quiet --via " + stick)
	shows := func(addr, want string) {
		t.Helper()
		var last string
		for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			r, err := http.Get(addr + "/")
			if err != nil {
				t.Fatal(err)
			}
			b, err := io.ReadAll(r.Body)
			r.Body.Close()
			if last = string(b); err != nil || strings.Contains(last, want) {
				return
			}
		}
		_, last, _ = strings.Cut(last, "<footer")
		t.Errorf("the page doesn't say %q: %s", want, last)
	}
	text := strings.TrimSpace(w.must("sites invite south --quiet"))
	addr, stop := w.serving()
	shows(addr, "All exchanged with other sites over ")
	w.must("sites join " + text + south)
	if got := w.must("sites exchange" + south); !strings.Contains(got, "from north") {
		t.Errorf("the page sent nothing: %s", got)
	}
	if r := stop(); r.Code != 0 {
		t.Errorf("%+v", r)
	}
	if err := os.Rename(stick, pocket); err != nil {
		t.Fatal(err)
	}
	addr, stop = w.serving()
	shows(addr, "No exchange with other sites for ")
	if r := stop(); r.Code != 0 {
		t.Errorf("%+v", r)
	}
}
