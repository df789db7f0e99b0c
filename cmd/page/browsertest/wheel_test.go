package browsertest

import "testing"

// On a wheel's page a job that is due takes one tap, one that needs figures leads to its
// form, and what was done earlier is recorded with its time.
func TestAWheelsDueJobsAreRecordedOnItsPage(t *testing.T) {
	bk := demoBook(t)
	b := open(t, bk.serve().addr, phone, "/")
	c, w := b.card("turn", "drying/A/1"), b.card("weigh", "drying/A/1")
	before := bk.log()
	b.goTo("/wheel/" + c.Wheels[0])
	b.shoot("phone-wheel-due")
	b.tap(`document.querySelector(".rows a[href='#do-check']")`)
	b.until(`document.getElementById("do-check").open && document.activeElement.closest("#do-check") !== null`)
	b.tap(`document.querySelector(".rows form [value=turn] ~ button")`)
	comes(t, "the turn", func() bool { return len(bk.since(before)) == 1 })
	b.goTo("/wheel/" + w.Wheels[1])
	js[any](b, `(() => { document.getElementById("c-cracks").closest("details").open = true; })()`)
	js[any](b, `(() => { document.getElementById("c-cracks").value = "no"; document.getElementById("c-at").value = "yesterday 17:45"; })()`)
	js[any](b, `document.querySelector("#do-check form").requestSubmit()`)
	comes(t, "the check", func() bool { return len(bk.since(before)) == 2 })
	for _, e := range bk.since(before) {
		switch at, written := when(t, e.At), when(t, e.Written); {
		case e.Of == c.Wheels[0] && e.What != "turned", e.Of != c.Wheels[0] && e.What != "checked":
			t.Errorf("the book has %+v", e)
		case e.What == "checked" && (at.Format("15:04") != "17:45" || !at.Before(written)):
			t.Errorf("it was yesterday at 17:45: %+v", e)
		}
	}
}
