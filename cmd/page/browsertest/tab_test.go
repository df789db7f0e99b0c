package browsertest

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/audits"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// tab is a page open in a browser of its own: cookies, storage and service
// worker are not shared with another tab's, unless it is a second of the same.
type tab struct {
	t     *testing.T
	ctx   context.Context
	home  string // host:port
	touch bool

	mu    sync.Mutex
	wrong []string // console errors, exceptions, breaches of the policy, foreign hosts
	asked []asked
	byID  map[network.RequestID]int
	may   []string // parts of complaints that the test expects
}

// asked is one request and what its answer weighed on the wire.
type asked struct {
	url, kind string
	body      string
	bytes     float64
	cached    bool
}

// size is what a page is looked at on.
type size struct {
	name   string
	w, h   int64
	mobile bool
}

var (
	phone = size{"phone", 360, 800, true}
	desk  = size{"desk", 1280, 900, false}
)

// open opens a browser of its own at a page of the server.
func open(t *testing.T, home string, sz size, path string) *tab {
	t.Helper()
	root, err := one.browser()
	if err != nil {
		t.Fatalf("the browser does not start: %v", err)
	}
	return newTab(t, root, home, sz, path, chromedp.WithNewBrowserContext())
}

// second opens another tab of the same browser.
func (b *tab) second(path string) *tab {
	b.t.Helper()
	return newTab(b.t, b.ctx, b.home, phone, path)
}

func newTab(t *testing.T, parent context.Context, home string, sz size, path string,
	opts ...chromedp.ContextOption) *tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(parent, opts...)
	b := &tab{t: t, ctx: ctx, home: home, touch: sz.mobile, byID: map[network.RequestID]int{}}
	t.Cleanup(func() {
		if t.Failed() {
			b.evidence()
		}
		b.quiet()
		cancel()
	})
	b.ok(chromedp.Listen(ctx, b.hear))
	call(b, network.Enable, network.EnableParams{})
	call(b, log.Enable, cdp.Empty{})
	call(b, audits.Enable, cdp.Empty{})
	call(b, runtime.Enable, cdp.Empty{})
	call(b, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true})
	b.size(sz)
	if path != "" {
		b.goTo(path)
	}
	return b
}

func call[P, R any](b *tab, cmd cdp.Command[P, R], p P) R {
	b.t.Helper()
	r, err := chromedp.Call(b.ctx, cmd, p)
	if err != nil {
		b.t.Fatalf("%s: %v", cmd.Method, err)
	}
	return r
}

func (b *tab) ok(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) size(sz size) {
	b.t.Helper()
	call(b, emulation.SetDeviceMetricsOverride,
		emulation.SetDeviceMetricsOverrideParams{Width: sz.w, Height: sz.h, DeviceScaleFactor: 1, Mobile: sz.mobile})
	call(b, emulation.SetTouchEmulationEnabled,
		emulation.SetTouchEmulationEnabledParams{Enabled: sz.mobile, MaxTouchPoints: 1})
	b.touch = sz.mobile
}

// dark sets what the person's system asks for.
func (b *tab) dark(on bool) {
	b.t.Helper()
	v := "light"
	if on {
		v = "dark"
	}
	call(b, emulation.SetEmulatedMedia,
		emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: v},
			{Name: "prefers-reduced-motion", Value: "reduce"}}})
}

// hear takes note of all that a page should not do.
func (b *tab) hear(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch ev := ev.(type) {
	case *runtime.EventExceptionThrown:
		d := ev.ExceptionDetails
		what := d.Text
		if d.Exception != nil {
			what += " " + d.Exception.Description
		}
		b.wrong = append(b.wrong, "exception: "+what)
	case *runtime.EventConsoleAPICalled:
		if ev.Type == runtime.ConsoleAPICalledTypeError || ev.Type == runtime.ConsoleAPICalledTypeWarning ||
			ev.Type == runtime.ConsoleAPICalledTypeAssert {
			var words []string
			for _, a := range ev.Args {
				words = append(words, a.Description+string(a.Value))
			}
			b.wrong = append(b.wrong, "console: "+strings.Join(words, " "))
		}
	case *log.EventEntryAdded:
		if e := ev.Entry; e.Level == log.EntryLevelError || e.Level == log.EntryLevelWarning {
			b.wrong = append(b.wrong, fmt.Sprintf("%s: %s %s", e.Source, e.Text, e.URL))
		}
	case *audits.EventIssueAdded:
		if d := ev.Issue.Details; d != nil && d.ContentSecurityPolicyIssueDetails != nil {
			c, _ := json.Marshal(d.ContentSecurityPolicyIssueDetails)
			b.wrong = append(b.wrong, "policy: "+string(c))
		}
	case *network.EventRequestWillBeSent:
		b.byID[ev.RequestID] = len(b.asked)
		b.asked = append(b.asked, asked{url: ev.Request.URL, kind: string(ev.Type), body: bodyOf(ev.Request)})
		u, err := url.Parse(ev.Request.URL)
		if err != nil || (u.Scheme != "data" && u.Scheme != "blob" && u.Host != b.home) {
			b.wrong = append(b.wrong, "foreign host: "+ev.Request.URL)
		}
	case *network.EventRequestServedFromCache:
		if i, ok := b.byID[ev.RequestID]; ok {
			b.asked[i].cached = true
		}
	case *network.EventLoadingFinished:
		if i, ok := b.byID[ev.RequestID]; ok {
			b.asked[i].bytes = ev.EncodedDataLength
		}
	}
}

func bodyOf(r *network.Request) string {
	var out strings.Builder
	for _, e := range r.PostDataEntries {
		out.Write(e.Bytes)
	}
	return out.String()
}

// expect says that a complaint with this in it is what the test is about.
func (b *tab) expect(parts ...string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.may = append(b.may, parts...)
}

// quiet fails the test where the browser complained.
func (b *tab) quiet() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
next:
	for _, w := range b.wrong {
		for _, m := range b.may {
			if strings.Contains(w, m) {
				continue next
			}
		}
		b.t.Errorf("the browser says: %s", w)
	}
	b.wrong = nil
}

// requests are those since the last call.
func (b *tab) requests() []asked {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := b.asked
	b.asked, b.byID = nil, map[network.RequestID]int{}
	return out
}

// goTo opens a page and waits until its scripts have run.
func (b *tab) goTo(path string) {
	b.t.Helper()
	err := chromedp.Do(b.ctx, chromedp.Navigate("http://"+b.home+path))
	// A page that goes somewhere itself, as after saving, stops it: then it's asked again.
	for end := time.Now().Add(patience); err != nil && strings.Contains(err.Error(), "ERR_ABORTED") && time.Now().Before(end); {
		time.Sleep(15 * time.Millisecond)
		err = chromedp.Do(b.ctx, chromedp.Navigate("http://"+b.home+path))
	}
	b.ok(err)
	b.settled()
}

// settled waits until a page's own scripts are through.
func (b *tab) settled() {
	b.t.Helper()
	b.until(`document.readyState === "complete" && ` +
		`(document.documentElement.style.setProperty("-webkit-tap-highlight-color", "transparent"), true) && ` +
		`(document.body.dataset.here !== "round" || (!!document.getElementById("foot") && ` +
		`!document.getElementById("foot").hidden))`)
}

// visit opens any address.
func (b *tab) visit(url string) {
	b.t.Helper()
	b.ok(chromedp.Do(b.ctx, chromedp.Navigate(url)))
}

func (b *tab) reload() {
	b.t.Helper()
	// A form just closed takes its step out of the history; no hand is as quick.
	b.until(`!history.state?.over || document.querySelector("dialog[open]")`)
	js[any](b, `window.isOld = true`)
	call(b, page.Reload, page.ReloadParams{})
	b.until(`!window.isOld`)
	b.settled()
}

// js evaluates an expression, and waits for it where it is a promise.
func js[T any](b *tab, expr string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expr, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%v\n%s", err, expr)
	}
	return v
}

// q is a value as JavaScript writes it.
func q(v any) string { s, _ := json.Marshal(v); return string(s) }

// until waits for an expression to be true, over page loads too.
func (b *tab) until(expr string) {
	b.t.Helper()
	if err := b.comes(expr, patience); err != nil {
		b.t.Fatalf("waited in vain for %s\n%s", expr, b.text())
	}
}

func (b *tab) comes(expr string, wait time.Duration) error {
	for end := time.Now().Add(wait); ; {
		v, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`!!(`+expr+`)`))
		if err == nil && v {
			return nil
		}
		if time.Now().After(end) {
			return errLate
		}
		time.Sleep(15 * time.Millisecond) // a page gives no event for "this holds now"
	}
}

// text is what is to be read on the page, or in what lies open over it.
func (b *tab) text() string {
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`location.pathname + "\n" + `+
		`(document.querySelector("dialog[open]") ?? document.body).innerText.replace(/\n+/g, "\n")`))
	if err != nil {
		return err.Error()
	}
	return v
}

// met finds the middle of an element, once it holds still and nothing lies over
// it: only then can a thumb meet it. why says what is in the way.
func (b *tab) met(el string) (x, y float64, why string) {
	got, err := chromedp.Run(b.ctx, chromedp.Evaluate[json.RawMessage](`(async () => {
		const e = `+el+`;
		if (!e) return "it is not there";
		const inside = (r) => r.top >= 0 && r.bottom <= innerHeight && r.left >= 0 && r.right <= innerWidth;
		const mid = (r) => [r.left + r.width / 2, r.top + r.height / 2];
		const over = () => { const r = e.getBoundingClientRect(); return document.elementFromPoint(...mid(r)); };
		const free = (o) => o && (e === o || e.contains(o) || (o.closest("label") && o.closest("label").contains(e)));
		if (!inside(e.getBoundingClientRect()) || !free(over())) e.scrollIntoView({ block: "center", behavior: "instant" });
		const frame = () => new Promise((y) => requestAnimationFrame(y));
		let r = e.getBoundingClientRect();
		for (let still = 0; still < 3;) {
			await frame();
			const n = e.getBoundingClientRect();
			still = n.top === r.top && n.left === r.left ? still + 1 : 0;
			r = n;
		}
		if (!r.width || !r.height) return "it has no size";
		if (e.disabled) return "it is disabled";
		const o = over();
		if (!free(o)) return "something lies over it: " + (o ? o.outerHTML.slice(0, 200) : "nothing");
		return mid(r);
	})()`, chromedp.EvalAwaitPromise))
	if err != nil {
		return 0, 0, err.Error()
	}
	var p []float64
	if json.Unmarshal(got, &p) == nil && len(p) == 2 {
		return p[0], p[1], ""
	}
	return 0, 0, string(got)
}

// tap taps an element, given as an expression, with a finger on a phone and the
// mouse on a desk, as soon as it can be met.
func (b *tab) tap(el string) {
	b.t.Helper()
	for end := time.Now().Add(patience); ; {
		x, y, why := b.met(el)
		if why == "" {
			b.tapAt(x, y)
			return
		}
		if time.Now().After(end) {
			b.t.Fatalf("%s cannot be met: %s\n%s", el, why, b.text())
		}
		time.Sleep(15 * time.Millisecond)
	}
}

func (b *tab) tapAt(x, y float64) {
	b.t.Helper()
	if b.touch {
		b.ok(chromedp.Do(b.ctx, chromedp.TapXY(x, y)))
		return
	}
	b.ok(chromedp.Do(b.ctx, chromedp.MouseClickXY(x, y)))
}

// tapUntil taps until something came of it, as people do: a card that just
// changed under the thumb takes no tap for a moment.
func (b *tab) tapUntil(el, then string) {
	b.t.Helper()
	why := ""
	for end := time.Now().Add(patience); time.Now().Before(end); {
		if b.comes(then, 0) == nil {
			return
		}
		var x, y float64
		if x, y, why = b.met(el); why != "" {
			time.Sleep(15 * time.Millisecond)
			continue
		}
		b.tapAt(x, y)
		if b.comes(then, 2*time.Second) == nil {
			return
		}
	}
	b.t.Fatalf("tapping %s does not come to %s %s\n%s", el, then, why, b.text())
}

// press presses a button by the words on it, within an element.
func (b *tab) press(within, words string) {
	b.t.Helper()
	b.tap(fmt.Sprintf(`[...(%s)?.querySelectorAll("button, a.button, summary, a") ?? []].find((x) => `+
		`x.checkVisibility() && x.innerText.trim() === %s)`, within, q(words)))
}

// keys presses keys on the keyboard.
func (b *tab) keys(s string) { b.t.Helper(); b.ok(chromedp.Do(b.ctx, chromedp.KeyEvent(s))) }

// fill types into a field.
func (b *tab) fill(el, words string) {
	b.t.Helper()
	b.until(el)
	js[any](b, fmt.Sprintf(`(() => { const e = %s; e.focus(); e.select?.(); })()`, el))
	if words == "" {
		b.keys("\b")
		return
	}
	b.keys(words)
}

// upload chooses a file.
func (b *tab) upload(selector, file string) {
	b.t.Helper()
	// By the script's own object: a node's number is void once the browser has told of a new document.
	at := call(b, runtime.Evaluate, runtime.EvaluateParams{Expression: fmt.Sprintf("document.querySelector(%q)", selector)})
	call(b, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: []string{file}, ObjectID: at.Result.ObjectID})
}

// onLine tells the page what its phone says of the signal.
func (b *tab) onLine(is bool) {
	b.t.Helper()
	call(b, network.OverrideNetworkState,
		network.OverrideNetworkStateParams{Offline: !is, DownloadThroughput: -1, UploadThroughput: -1})
}

// shoot leaves a picture, where pictures are asked for.
func (b *tab) shoot(name string) {
	dir := os.Getenv("RINDKEEP_BROWSER_SHOTS")
	if dir == "" {
		return
	}
	b.t.Helper()
	b.ok(os.MkdirAll(dir, 0o755))
	shot := call(b, page.CaptureScreenshot, page.CaptureScreenshotParams{})
	b.ok(os.WriteFile(filepath.Join(dir, name+".png"), shot.Data, 0o644))
}

// evidence says what the page showed when a test failed.
func (b *tab) evidence() {
	b.t.Logf("the page as the test failed:\n%s", b.text())
	b.shoot("failed-" + strings.ReplaceAll(b.t.Name(), "/", "-"))
}
