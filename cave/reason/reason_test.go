package reason_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"testing"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// seen is a figure with words for JSON.
type seen uint8

func (s seen) String() string { return []string{"", "no", "yes"}[min(s, 2)] }

type inner struct {
	Dry seen `json:"dry"`
	Any bool `json:"any"`
}

// all is a reason with a figure of every form.
type all struct {
	Mass  quantity.Grams    `json:"mass_g"`
	Loss  quantity.Fraction `json:"loss_pct"`
	Days  int               `json:"days"`
	On    day.Date          `json:"on"`
	Seen  seen              `json:"seen"`
	Raw   uint8             `json:"raw"`
	Warm  bool              `json:"warm"`
	Words string            `json:"words"`
	At    time.Time         `json:"at"`
	Inner inner             `json:"inner"`
}

type none struct{}

func (all) Code() string  { return "all" }
func (none) Code() string { return "none" }

func init() { reason.Register(map[int]reason.Reason{9000: all{}, 9001: none{}}) }

var sample = reason.List{
	all{
		1942.5, 0.031, -7, day.Of(2026, time.November, 25), 2, 9, true, `a "word" <é>`,
		time.UnixMilli(1764057600123).UTC(), inner{1, true},
	},
	none{},
	all{Mass: 1.0 / 3, Loss: -0.5, Days: math.MinInt64, On: day.None, At: time.UnixMilli(0).UTC()},
}

func TestReasonsComeBackAsTheyWerePacked(t *testing.T) {
	for _, l := range []reason.List{nil, sample, sample[:1], sample[1:2]} {
		got, rest, err := reason.Decode(string(append(reason.Append(nil, l), "rest"...)))
		if err != nil || rest != "rest" || !got.Equal(l) {
			t.Errorf("%+v came back as %+v, %q, %v", l, got, rest, err)
		}
	}
}

func TestReasonsAreSmall(t *testing.T) {
	if n := len(reason.Append(nil, reason.List{none{}})); n != 3 {
		t.Errorf("a reason without figures takes %d bytes", n)
	}
}

func TestReasonsInJSON(t *testing.T) {
	b, err := json.Marshal(sample[:2])
	want := `[{"code":"all","mass_g":1942.5,"loss_pct":3.1,"days":-7,"on":"2026-11-25","seen":"yes","raw":9,"warm":true,` +
		`"words":"a \"word\" \u003cé\u003e","at":"2025-11-25T08:00:00Z","inner":{"dry":"no","any":true}},{"code":"none"}]`
	if err != nil || string(b) != want {
		t.Errorf("got  %s\nwant %s", b, want)
	}
	var l reason.List
	if err := json.Unmarshal(b, &l); err != nil || len(l) != 2 {
		t.Errorf("came back as %+v, %v", l, err)
	} else if x := l[0].(all); x.Words != sample[0].(all).Words || x.Inner != (inner{1, true}) {
		t.Errorf("came back as %+v", x)
	}
	for in, want := range map[string]reason.List{
		"[]":                                  nil,
		`[{"code":"all","on":null}]`:          {all{On: day.None}},
		`[{"code":"none"},{"code":"none"}]`:   {none{}, none{}},
		`[{"code":"all","inner":{"dry":""}}]`: {all{}},
	} {
		if err := json.Unmarshal([]byte(in), &l); err != nil || !l.Equal(want) {
			t.Errorf("%s: %+v, %v", in, l, err)
		}
	}
	for _, in := range []string{
		`{}`, `[{"code":"what"}]`, `[{}]`, `[{"code":"none","days":1}]`, `[{"code":"all","days":"x"}]`,
		`[{"code":"all","seen":"maybe"}]`, `[{"code":"all","inner":{"wet":1}}]`,
	} {
		if err := json.Unmarshal([]byte(in), &l); err == nil {
			t.Errorf("%s was read as %+v", in, l)
		}
	}
	if b, err := json.Marshal(struct{ L reason.List }{}); err != nil || string(b) != `{"L":[]}` {
		t.Errorf("no reasons are %s, %v", b, err)
	}
	unknown := reason.List{all{Mass: quantity.Grams(math.Inf(1)), Loss: quantity.Fraction(math.NaN())}}
	if b, err := json.Marshal(unknown); err != nil || !bytes.Contains(b, []byte(`"mass_g":null,"loss_pct":null`)) {
		t.Errorf("unknown figures are %s, %v", b, err)
	}
}

func TestWhatDoesNotDecodeIsSaidNotTaken(t *testing.T) {
	whole := reason.Append(nil, sample)
	for n := range len(whole) {
		if l, _, err := reason.Decode(string(whole[:n])); !errors.Is(err, reason.ErrPacked) {
			t.Fatalf("cut off at %d: %+v, %v", n, l, err)
		}
	}
	var unknown reason.UnknownNumber
	if _, _, err := reason.Decode("\x01\xf0\x7f"); !errors.As(err, &unknown) || unknown.Number != 16368 {
		t.Errorf("an unknown number: %v", err)
	}
}

func TestWhatTwoListsShare(t *testing.T) {
	a, b, c := reason.Reason(none{}), reason.Reason(all{Days: 1}), reason.Reason(all{Days: 2})
	for _, x := range []struct{ l, o, want reason.List }{
		{reason.List{a, b}, reason.List{a, c}, reason.List{a}},
		{reason.List{a, b}, reason.List{a, b}, reason.List{a, b}},
		{reason.List{a, b}, reason.List{b}, nil},
		{nil, reason.List{a}, nil},
	} {
		if got := x.l.Common(x.o); !got.Equal(x.want) {
			t.Errorf("%v and %v share %v", x.l, x.o, got)
		}
	}
	if reason.ListOf(nil) != nil || !reason.ListOf(a).Equal(reason.List{a}) {
		t.Error("a list of one")
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(string(reason.Append(nil, sample)))
	f.Add("\x02\xa9\x46\xa9\x46")
	f.Fuzz(func(t *testing.T, s string) {
		l, _, err := reason.Decode(s)
		if err != nil {
			return
		}
		packed := reason.Append(nil, l)
		again, rest, err := reason.Decode(string(packed))
		if err != nil || rest != "" || !bytes.Equal(reason.Append(nil, again), packed) {
			t.Fatalf("%+v came back as %+v, %q, %v", l, again, rest, err)
		}
		if _, err := json.Marshal(l); err != nil {
			t.Fatal(err)
		}
	})
}

func BenchmarkDecode(b *testing.B) {
	s := string(reason.Append(nil, reason.List{none{}, all{Days: 7}}))
	for b.Loop() {
		if _, _, err := reason.Decode(s); err != nil {
			b.Fatal(err)
		}
	}
}
