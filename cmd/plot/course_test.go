package plot

import (
	"encoding/xml"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func clock(h, m int) time.Time { return time.Date(2026, 11, 25, h, m, 0, 0, time.UTC) }

// elements are the elements of a picture by name and class, counted.
func elements(t interface{ Fatal(...any) }, svg string) map[string]int {
	out := map[string]int{}
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err, svg)
		}
		if e, ok := tok.(xml.StartElement); ok {
			name := e.Name.Local
			for _, a := range e.Attr {
				if a.Name.Local == "class" {
					name += "." + a.Value
				}
			}
			out[name]++
		}
	}
}

func TestACourseMarksWhatLiesBeyondItsLimitsByShape(t *testing.T) {
	p := Measured{Name: "humidity", Unit: "%", Low: 82, High: 95}
	for i, y := range []float64{84, 82, 81.9, 95, 96} {
		p.Moments = append(p.Moments, Moment{At: clock(8+i, 0), Y: y})
	}
	svg := Course{Title: "air", Measured: []Measured{p}}.Chart().SVG(760, 300)
	got := elements(t, svg)
	// Two marks and the one of the key, a line and that of the key; the limits
	// themselves are within.
	if diff := cmp.Diff([]int{3, 3, 2, 5}, []int{got["path.over"], got["circle.point"], got["polyline.own"],
		got["circle.told"]}); diff != "" {
		t.Errorf("marks, points, lines, figures told: %s\n%s", diff, svg)
	}
	for _, word := range []string{"within limits", "out of limits", "air: humidity, %", "09:00",
		"Wed 25 Nov 10:00: humidity 81.9 %"} {
		if !strings.Contains(svg, ">"+word+"<") {
			t.Errorf("the picture does not say %q", word)
		}
	}
}

func TestACourseIsBrokenWhereNothingWasMeasured(t *testing.T) {
	p := Measured{Name: "pH", Low: math.NaN(), High: math.NaN(), Gap: time.Hour, Moments: []Moment{
		{At: clock(8, 0), Y: 6.6}, {At: clock(9, 0), Y: 6.5}, {At: clock(10, 1), Y: 6.4}, {At: clock(10, 30), Y: 6.3},
		{At: clock(15, 0), Y: 5.3, Word: "milling"},
	}}
	svg := Course{Title: "acidity", Measured: []Measured{p}}.Chart().SVG(760, 300)
	got := elements(t, svg)
	if got["polyline.own"] != 3 || got["path.over"] != 0 || got["polygon.expected"] != 0 {
		t.Errorf("%d runs, %d marks, %d limits; want 3, 0, 0", got["polyline.own"], got["path.over"], got["polygon.expected"])
	}
	if !strings.Contains(svg, ">milling<") {
		t.Error("a word beside a figure is lost")
	}
}

func TestTheTicksOfACourseFallOnTheClock(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	at := func(s string) time.Time {
		x, err := time.ParseInLocation("2006-01-02 15:04", s, dublin)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for _, c := range []struct {
		name, from, to string
		want           []string
	}{
		{"quarters of an hour within one", "2026-11-25 08:05", "2026-11-25 09:00", []string{"08:15", "08:30", "08:45",
			"09:00"}},
		{"hours of a day's work", "2026-11-25 07:40", "2026-11-25 15:10", []string{"08:00", "10:00", "12:00", "14:00"}},
		{"midnight is its date", "2026-11-25 20:00", "2026-11-26 05:00", []string{"21:00", "26 Nov", "03:00"}},
		{"days by their midnights", "2026-11-21 08:00", "2026-11-25 08:00", []string{"22 Nov", "23 Nov", "24 Nov", "25 Nov"}},
		{"also over the change of the clocks", "2026-10-23 13:00", "2026-10-27 12:00", []string{"24 Oct", "25 Oct",
			"26 Oct", "27 Oct"}},
		{"months by every fourth week", "2026-07-01 00:00", "2026-10-20 00:00", []string{"1 Jul", "29 Jul", "26 Aug",
			"23 Sep"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []string
			for _, k := range clockTicks(at(c.from), at(c.to), 4) {
				got = append(got, k.word)
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestNothingMeasuredIsSaid(t *testing.T) {
	for _, c := range []Course{{}, {Measured: []Measured{{Name: "pH"}}}, {Measured: []Measured{{Name: "pH",
		Moments: []Moment{{At: clock(8, 0), Y: math.NaN()}}}}}} {
		svg := c.Chart().SVG(760, 300)
		if elements(t, svg); !strings.Contains(svg, "nothing was measured") {
			t.Error(svg)
		}
	}
}

func TestAnyCourseAtAllIsDrawnWithinThePicture(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		figure := rapid.OneOf(rapid.Float64(), rapid.Float64Range(-50, 150), rapid.Just(math.NaN()), rapid.Just(math.Inf(1)))
		c := Course{Title: rapid.String().Draw(t, "title")}
		for range rapid.IntRange(0, 3).Draw(t, "panels") {
			p := Measured{Name: rapid.String().Draw(t, "name"), Low: figure.Draw(t, "low"), High: figure.Draw(t, "high"),
				Gap: time.Duration(rapid.IntRange(0, 100).Draw(t, "gap")) * time.Hour}
			at := time.Unix(int64(rapid.IntRange(0, 1<<31).Draw(t, "from")), 0)
			for range rapid.IntRange(0, 20).Draw(t, "moments") {
				at = at.Add(time.Duration(rapid.Int64Range(0, int64(400*time.Hour)).Draw(t, "later")))
				p.Moments = append(p.Moments, Moment{At: at, Y: figure.Draw(t, "y"), Word: rapid.StringN(0, 12, -1).Draw(t,
					"word")})
			}
			c.Measured = append(c.Measured, p)
		}
		w, h := rapid.IntRange(280, 1200).Draw(t, "w"), rapid.IntRange(240, 900).Draw(t, "h")
		svg := c.Chart().SVG(w, h)
		elements(t, svg)
		d := xml.NewDecoder(strings.NewReader(svg))
		for {
			tok, err := d.Token()
			if err == io.EOF {
				return
			}
			e, ok := tok.(xml.StartElement)
			if !ok || e.Name.Local != "circle" {
				continue
			}
			for _, a := range e.Attr {
				limit := map[string]int{"cx": w, "cy": h}[a.Name.Local]
				if limit == 0 {
					continue
				}
				var x float64
				if err := xml.Unmarshal([]byte("<x>"+a.Value+"</x>"), &x); err != nil || !(x >= 0 && x <= float64(limit)) {
					t.Fatalf("%s=%q lies outside %d by %d", a.Name.Local, a.Value, w, h)
				}
			}
		}
	})
}

func TestANarrowCurveKeepsItsWordsInside(t *testing.T) {
	c := curve()
	p := &c.Panels[0]
	p.Label = "loss, % of green weight"
	p.Series = slices.DeleteFunc(p.Series, func(s Series) bool { return s.Look == Other })
	for i := range p.Series {
		if p.Series[i].Look == Upright {
			p.Series[i] = Series{Look: Upright, Name: "expected dry enough Thu 26 Nov", At: []Span{At(4, 0)}}
		}
	}
	svg := c.SVG(340, 360)
	elements(t, svg)
	word := `<text(?: class="title")? x="([0-9.]+)" y="[0-9.]+"`
	words := regexp.MustCompile(word+`(?: text-anchor="([a-z]+)")?>([^<]*)<`).FindAllStringSubmatch(svg, -1)
	if len(words) < 12 {
		t.Fatalf("only %d words found in %s", len(words), svg)
	}
	for _, w := range words {
		x, err := strconv.ParseFloat(w[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		from := x - (&picture{}).Width(w[3])*map[string]float64{"": 0, "start": 0, "middle": 0.5, "end": 1}[w[2]]
		if from < 0 || from+(&picture{}).Width(w[3]) > 340 {
			t.Errorf("%q runs from %.0f to %.0f", w[3], from, from+(&picture{}).Width(w[3]))
		}
	}
	if strings.Contains(svg, ">261120A-01: ") || !strings.Contains(svg, ">loss, % of green weight<") {
		t.Error("a title too wide is not cut to what is drawn")
	}
}
