package browsertest

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/chromedp"
)

// axe is what axe-core finds on a page that breaks the rules of WCAG 2.2 AA.
func (b *tab) axe(script, only string) []string {
	b.t.Helper()
	js[any](b, script+"\n;1")
	return js[[]string](b, `axe.run(document, { resultTypes: ["violations"], `+only+` }).then((r) => r.violations.flatMap((v) => v.nodes.map((n) =>
		v.id + ": " + n.target.join(" ") + ": " + [...n.any, ...n.all, ...n.none].map((c) => c.message).join("; "))))`)
}

// axeCore is the script that knows the rules; "" where it is missing.
func axeCore(t *testing.T) string {
	t.Helper()
	script, err := os.ReadFile(filepath.Join(os.Getenv("RINDKEEP_NODE_MODULES"), "axe-core", "axe.min.js"))
	if err != nil && os.Getenv("RINDKEEP_TEST_ALL") == "1" {
		t.Fatal("axe-core is missing")
	}
	return string(script)
}

// rules looks for what breaks the rules of accessibility, in light and dark.
func (b *tab) rules(name, script string) {
	b.t.Helper()
	if script == "" {
		return
	}
	for _, look := range []struct {
		dark bool
		only string
	}{{false, allRules}, {true, contrast}} { // in the dark, nothing else can differ
		b.dark(look.dark)
		for _, v := range b.axe(script, look.only) {
			b.t.Errorf("%s, dark %v: %s", name, look.dark, v)
		}
	}
	b.dark(false)
}

// rulesBite fails where the checks check nothing.
func (b *tab) rulesBite(script string) {
	b.t.Helper()
	if script == "" {
		b.t.Skip("axe-core is missing: all but the rules of accessibility was tried")
	}
	js[any](b, `(document.body.append(document.createElement("button")), 1)`)
	if len(b.axe(script, allRules)) == 0 {
		b.t.Error("a button without a name is not found: the checks check nothing")
	}
}

// wide are the elements that stick out of the page, or of a form over it, and
// do not scroll in a box of their own.
const wide = `(() => {
	const root = document.querySelector("dialog[open]") ?? document.documentElement, w = document.documentElement.clientWidth, out = [];
	if (root.scrollWidth > root.clientWidth) out.push("the page scrolls sideways: " + root.scrollWidth + " in " + root.clientWidth);
	const boxed = (e) => { for (let p = e.parentElement; p && p !== root; p = p.parentElement) if (/auto|scroll|hidden|clip/.test(getComputedStyle(p).overflowX)) return true; return false; };
	for (const e of root.querySelectorAll("*")) {
		if (!e.checkVisibility({ contentVisibilityAuto: true, visibilityProperty: true })) continue;
		const r = e.getBoundingClientRect();
		if (r.width && (r.right > w + 1 || r.left < -1) && !boxed(e) && !e.closest(".said, .skip")) out.push(e.outerHTML.slice(0, 120));
	}
	return out.slice(0, 5);
})()`

// small are targets a gloved thumb would miss: 44 px on the pages, and 56 on the
// round. Links within running text are excused, as WCAG does.
const small = `(() => {
	const out = [], least = document.body.dataset.here === "round" ? 55 : 43;
	const root = document.querySelector("dialog[open]") ?? document.body;
	for (const e of root.querySelectorAll("button, a[href], summary, input:not([type=hidden]), select, textarea")) {
		if (!e.checkVisibility({ contentVisibilityAuto: true, visibilityProperty: true }) || e.closest(".skip, .said")) continue;
		const t = e.matches("input[type=checkbox], input[type=radio]") ? e.closest("label") ?? e : e;
		const r = t.getBoundingClientRect();
		const text = e.matches("a:not(.button)") && getComputedStyle(e).display === "inline";
		const want = e.closest(".top, .day, .notice") ? 43 : least;
		if (!text && r.height < want) out.push(Math.round(r.width) + "x" + Math.round(r.height) + " " + e.outerHTML.slice(0, 100));
	}
	return out.slice(0, 5);
})()`

// interactive are the roles a person does something with.
var interactive = []string{"button", "link", "textbox", "searchbox", "combobox", "checkbox", "radio", "spinbutton",
	"listbox", "switch", "tab", "menuitem", "slider", "Date", "DisclosureTriangle", "image", "img", "region", "dialog",
	"navigation"}

// names looks whether a screen reader has a name for everything, and counts
// what it looked at.
func (b *tab) names(page string) (seen int) {
	b.t.Helper()
	buttons := map[string]int{}
	for _, n := range call(b, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{}).Nodes {
		role := words(n.Role)
		if n.Ignored || !slices.Contains(interactive, role) {
			continue
		}
		seen++
		called := words(n.Name)
		if strings.TrimSpace(called) == "" {
			b.t.Errorf("%s: a %s has no name: %s", page, role, b.html(n.BackendDOMNodeID))
		}
		if role == "button" {
			buttons[called]++
		}
	}
	if page == "round" {
		for called, n := range buttons {
			if n > 1 {
				b.t.Errorf("%d buttons of the round are called %q", n, called)
			}
		}
	}
	return seen
}

// headings looks whether a page has a title, a language, and headings that
// leave out no order.
func (b *tab) headings(page string) {
	b.t.Helper()
	if js[string](b, `document.documentElement.lang`) != "en" || js[string](b, `document.title`) == "" {
		b.t.Errorf("%s has no language or no title", page)
	}
	if js[bool](b, `!!document.querySelector("dialog[open]")`) {
		return // it lies over the page, with a heading of its own
	}
	hs := js[[]int](b,
		`[...document.querySelectorAll("h1, h2, h3, h4")].filter((h) => h.checkVisibility()).map((h) => +h.tagName[1])`)
	if len(hs) == 0 || hs[0] != 1 || slices.Contains(hs[1:], 1) {
		b.t.Errorf("%s has headings of the orders %v", page, hs)
	}
	for i := 1; i < len(hs); i++ {
		if hs[i] > hs[i-1]+1 {
			b.t.Errorf("%s has headings of the orders %v", page, hs)
		}
	}
}

func words(v *accessibility.Value) string {
	if v == nil {
		return ""
	}
	var s string
	_ = json.Unmarshal(v.Value, &s)
	return s
}

func (b *tab) html(id cdp.BackendNodeID) string {
	r, err := chromedp.Call(b.ctx, dom.GetOuterHTML, dom.GetOuterHTMLParams{BackendNodeID: id})
	if err != nil {
		return err.Error()
	}
	return r.OuterHTML
}
