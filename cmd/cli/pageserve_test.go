package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	network "net"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// serving is a command line that serves a page until ctx ends.
func (w *world) serving(args ...string) (addr string, stop func() ran) {
	w.t.Helper()
	ctx, cancel := context.WithCancel(w.t.Context())
	port := freePort(w.t)
	e := w.env
	var out, errs bytes.Buffer
	e.Out, e.Err = &out, &errs
	var code int
	var done sync.WaitGroup
	done.Go(func() {
		code = Run(ctx, append([]string{"page", "--listen", "localhost:" + port}, args...), e)
	})
	addr = "http://localhost:" + port
	for deadline := time.Now().Add(10 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		if r, err := http.Get(addr + "/health"); err == nil {
			r.Body.Close()
			break
		}
		if time.Now().After(deadline) {
			cancel()
			done.Wait()
			w.t.Fatalf("it does not answer\n%s%s", out.String(), errs.String())
		}
	}
	return addr, func() ran {
		cancel()
		done.Wait()
		return ran{code, out.String(), errs.String()}
	}
}

func freePort(t testing.TB) string {
	t.Helper()
	l, err := network.Listen("tcp", "localhost:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return strconv.Itoa(l.Addr().(*network.TCPAddr).Port)
}

func TestThePageIsServedUntilItIsInterruptedAndThatIsNoFailure(t *testing.T) {
	w := newWorld(t).kept()
	now := morning.Add(time.Hour)
	w.env.Now = func() time.Time { return now }
	addr, stop := w.serving("--verbose")
	if r, err := http.Get(addr + "/"); err != nil || r.StatusCode != 200 {
		t.Error(r, err)
	}
	taken := strings.TrimPrefix(addr, "http://localhost")
	w.want(exitRefused, `port \d+ is taken\n.*--listen localhost:4871`, "page", "--listen", "localhost"+taken)
	r := stop()
	if r.Code != 0 || !strings.Contains(r.Err, "the page is at "+addr) ||
		!strings.HasSuffix(r.Err, "stopped; every request was finished\n") || !strings.Contains(r.Err, `route="GET /{$}"`) {
		t.Errorf("%+v", r)
	}
}

func TestThePageRefusesToBeServedUnsafely(t *testing.T) {
	w := newWorld(t).kept()
	w.want(exitRefused, `other machines can reach :0, and nobody has a password yet\nhint: .*rindkeep page password NAME`,
		"page", "--listen", ":0")
	w.want(exitUsage, `--listen wants host:port`, "page", "--listen", "localhost")
	w.want(exitUsage, `--listen wants host:port`, "page", "--listen", "localhost:70000")
	w.want(exitRefused, `192\.0\.2\.250 isn't an address of this machine`, "page", "--listen", "192.0.2.250:0")
	w.want(exitUsage, `--cert and --key go together`, "page", "--cert", "x")
	w.want(exitUsage, `not both`, "page", "--cert", "x", "--key", "y", "--tls")
	w.want(exitRefused, `can't use the certificate: x: it is not there`, "page", "--cert", "x", "--key", "y", "--listen",
		"localhost:0")
	w.want(exitUsage, `--name wants a host's name`, "page", "--name", "http://x")
	w.want(exitUsage, `no command "pasword" in rindkeep page\nhint: did you mean rindkeep page password\?`, "page",
		"pasword")
	w.want(exitUsage, `no password was given`, "page", "password", "Nora")
	if err := os.Rename(w.book, w.book+".away"); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"page", "--listen", "localhost:0"}, {"page", "password", "Nora"}, {"page", "people"},
		{"page", "forget", "Nora"}, {"page", "device", "scale"}} {
		w.want(exitNoBook, `no book`, args...)
	}
}

func TestTheDocumentsOfAccessKeepTheirFields(t *testing.T) {
	w := newWorld(t).kept()
	for _, c := range []struct {
		name, stdin string
		args        []string
	}{
		{"page-password", "three wet wheels\n", []string{"page", "password", "Nora"}},
		{"page-device", "", []string{"page", "device", "scale-1"}},
		{"page-people", "", []string{"page", "people"}},
		{"page-forget", "", []string{"page", "forget", "nora"}},
	} {
		w.env.In = strings.NewReader(c.stdin)
		r := w.run(append(c.args, "--json")...)
		var v any
		if err := json.Unmarshal([]byte(r.Out), &v); r.Code != 0 || err != nil {
			t.Fatalf("%q: %+v %v", c.args, r, err)
		}
		golden(t, "json/"+c.name+".txt", strings.Join(shapeOf(v), "\n")+"\n")
	}
}

func TestAPasswordIsAskedTwiceOnATerminal(t *testing.T) {
	for _, c := range []struct {
		name  string
		typed []string
		code  int
		says  string
	}{
		{"the same twice", []string{"three wet wheels", "three wet wheels"}, 0, "the same again"},
		{"not the same", []string{"three wet wheels", "three wet wheals"}, exitRefused,
			"the two don't match; nothing was changed"},
		{"too short", []string{"wheels"}, exitRefused, "too short"},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t).kept()
			w.env.InTTY = true
			w.env.Secret = func(context.Context) (string, error) {
				if len(c.typed) == 0 {
					return "", io.EOF
				}
				s := c.typed[0]
				c.typed = c.typed[1:]
				return s, nil
			}
			r := w.run("page", "password", "Nora")
			if r.Code != c.code || !strings.Contains(r.Err, c.says) || strings.Contains(r.Out+r.Err, "wet") {
				t.Errorf("%+v", r)
			}
			_, err := os.Stat(w.book + ".access")
			if kept := err == nil; kept != (c.code == 0) {
				t.Errorf("kept: %v", kept)
			}
		})
	}
}
