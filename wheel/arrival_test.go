package wheel

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

func TestWhatIsKnownOfAWheelBeganWithItsArrival(t *testing.T) {
	bought := Entry{Kind: Received, Detail: Arrival{Supplier: "Fern Bank", Lot: "FB-4"}.Detail()}
	for _, c := range []struct {
		name  string
		write func(d *diary)
		aged  bool
		since int // age in days
		stays []Stay
	}{
		{"made here", func(d *diary) { d.weigh(1, 2000) }, false, 0, []Stay{{began.Start(time.UTC), "cellar", false}}},
		{"bought, weighed as it came", func(d *diary) { d.on(30, bought); d.weigh(30, 1900) }, true, 30,
			[]Stay{{began.Start(time.UTC), "", true}, {(began + 30).Noon(time.UTC), "cellar", false}}},
		{"bought, never weighed", func(d *diary) { d.on(30, bought) }, true, 30,
			[]Stay{{began.Start(time.UTC), "", true}, {(began + 30).Noon(time.UTC), "cellar", false}}},
		{"bought, and the supplier's coat and green weight are known",
			func(d *diary) { d.weigh(1, 2000); d.on(9, Entry{Kind: CoatedOn, Coat: "wax"}); d.on(30, bought) }, false, 30,
			[]Stay{{began.Start(time.UTC), "", true}, {(began + 30).Noon(time.UTC), "cellar", false}}},
		{"the arrival was struck", func(d *diary) { id := d.on(30, bought); d.strike(31, id); d.weigh(32, 1900) }, false, 0,
			[]Stay{{began.Start(time.UTC), "cellar", false}}},
		{"one's own, at its place since its tenth day", func(d *diary) {
			here := began + 10
			d.on(30, Entry{Kind: TakenOver, Detail: Arrival{Here: &here}.Detail()})
		}, true, 30, []Stay{{began.Start(time.UTC), "", true}, {(began + 10).Start(time.UTC), "cellar", false}}},
	} {
		var d diary
		c.write(&d)
		since := began
		if c.aged || len(c.stays) > 1 {
			since += 30
		}
		w := Wheel{ID: subject, Tag: "261120A-01", Plan: "tomme", Place: "cellar", Since: since.Noon(time.UTC)}
		l := NewLife(w, Make{Date: began, Lot: "261120A"}, d.es, time.UTC, nil)
		if l.Aged() != c.aged || l.Since != began+day.Date(c.since) {
			t.Errorf("%s: aged %v, kept since day %d", c.name, l.Aged(), l.Since-began)
		}
		if diff := cmp.Diff(c.stays, l.Stays); diff != "" {
			t.Errorf("%s: stays (-want +got)\n%s", c.name, diff)
		}
	}
}

func TestAnArrivalIsReadBackAndChecked(t *testing.T) {
	cold, hot, on := quantity.Celsius(-2), quantity.Celsius(90), day.Date(20000)
	good := Arrival{
		Supplier: "Fern Bank", Maker: "Alder", Lot: "A 7/26", DocumentType: "invoice", Document: "12", Temp: &cold,
		Price: 11.4, Currency: "EUR", Here: &on,
	}
	e := Entry{Kind: Received, Detail: good.Detail()}
	if diff := cmp.Diff(good, e.Arrival()); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	for _, c := range []struct {
		a    Arrival
		want string
	}{
		{good, ""}, {Arrival{Supplier: "a\nb"}, "name"}, {Arrival{Supplier: "x", Temp: &hot}, "outside"},
		{Arrival{Supplier: "x", Price: -1}, "outside"}, {Arrival{}, "missing"},
	} {
		e := Entry{ID: subject, Subject: subject, Kind: Received, At: began.Noon(time.UTC), Written: began.Noon(time.UTC),
			Detail: c.a.Detail()}
		err := e.Check()
		if (err == nil) != (c.want == "") {
			t.Errorf("%+v: %v", c.a, err)
		}
		if r := reason.Of(err); r != nil && c.want != "name" && r.Code() != c.want {
			t.Errorf("%+v is refused as %s, want %s", c.a, r.Code(), c.want)
		}
	}
}
