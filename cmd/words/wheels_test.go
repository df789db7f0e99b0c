package words

import (
	"testing"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/wheels"
	"rindkeep/wheel"
)

func TestWhatIsSaidOfWheelsFitsTheReader(t *testing.T) {
	held := wheels.HeldBack{Wheel: "A-01", Why: reason.List{
		wheel.HeldSince{Words: "test pending", Since: day.Of(2026, 11, 20)},
		wheel.HeldSince{Words: "gas", Since: day.Of(2026, 11, 21)},
	}}
	shop := wheels.NewCustomer{Name: "The Shop"}
	sweat := wheels.WillSweat{From: "cellar", Temp: 10, To: "drying", Dew: 12.5}
	for _, c := range []struct {
		name string
		p    Printer
		why  reason.Reason
		want string
	}{
		{"why a wheel is held", Printer{}, held, "A-01 is held: test pending, since 2026-11-20; gas, since 2026-11-21"},
		{"sweat", Printer{}, sweat, "a wheel at the 10.0 °C of cellar sweats in drying, whose dew point is 12.5 °C: " +
			"let it warm up covered, or the rind gets wet"},
		{"sweat in imperial units", Printer{Units: quantity.Imperial}, sweat, "a wheel at the 50.0 °F of cellar sweats in " +
			"drying, whose dew point is 54.5 °F: let it warm up covered, or the rind gets wet"},
		{"a new customer, typed", Printer{}, shop, `no customer "The Shop" is saved: ` +
			"rindkeep customer new 'The Shop' --contact TEXT --address TEXT"},
		{"a new customer, on the page", Printer{For: Page}, shop, `no customer "The Shop" is saved`},
		{"a piece without its weight", Printer{}, reason.Needs{What: "part", Other: "weight"},
			"a piece needs a weight"},
	} {
		if got := c.p.Sentence(c.why); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	r := app.Refuse(held, wheels.LiftHold{Wheel: "A-01"})
	for surface, want := range map[Surface]string{
		CommandLine: "lift a hold set by hand with rindkeep wheel release A-01 --why TEXT; " +
			"to send it despite the hold, say why with --override",
		Page: "lift a hold set by hand with Release; to send it despite the hold, say why",
	} {
		if got := (Printer{For: surface}).Remedy(r); got != want {
			t.Errorf("remedy on surface %d: %q, want %q", surface, got, want)
		}
	}
}

func TestWhatWasRecordedIsSaidInOneLine(t *testing.T) {
	two := []string{"A-01", "A-02"}
	for _, c := range []struct {
		e          wheel.Entry
		tags       []string
		what, line string
	}{
		{wheel.Entry{Kind: wheel.Moved, Place: "cellar/B"}, two, "moved to cellar/B",
			"moved 2 wheels to cellar/B: A-01, -02"},
		{wheel.Entry{Kind: wheel.Tagged, Tag: "pepper"}, two[:1], "tagged pepper", "A-01 is now pepper"},
		{wheel.Entry{Kind: wheel.SentPart, To: "Shop"}, two[:1], "sent a piece to Shop",
			"sent a piece of 1 wheel to Shop: A-01"},
		{wheel.Entry{Kind: wheel.Held}, two, "held", "held 2 wheels: A-01, -02"},
		{wheel.Entry{Kind: wheel.Voided}, nil, "removed", "no wheels: nothing recorded"},
	} {
		d := wheels.Recorded{Entry: c.e, Wheels: c.tags}
		Printer{}.FillRecorded(&d)
		if got := (Printer{}).Recorded(d); d.What != c.what || got != c.line {
			t.Errorf("%v: %q and %q, want %q and %q", c.e.Kind, d.What, got, c.what, c.line)
		}
	}
}
