package page

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cmd/page/access"
)

const (
	phone1 = "0193a0b1-0000-7000-8000-000000000001"
	phone2 = "0193a0b1-0000-7000-8000-000000000002"
)

func tapJSON(n ...int) string {
	var out []string
	for _, n := range n {
		out = append(out, fmt.Sprintf(`{"n":%d,"at":"2026-11-25T07:0%d:00Z"}`, n, n))
	}
	return "[" + strings.Join(out, ",") + "]"
}

// The book knows the numbers that a phone gave, so it can say what never came: to the
// person, on that phone or on another one, until they've seen to it.
func TestEntriesThatAPhoneAnnouncedAndLostAreMissed(t *testing.T) {
	st := newStage(t)
	nora := with(isJSON, "Cookie", st.person("Nora", access.Writer)["Cookie"])
	bram := with(isJSON, "Cookie", st.person("Bram", access.Writer)["Cookie"])
	turned := func(phone string, n int, more string) string {
		return fmt.Sprintf(`{"job":"turn","wheels":["a"],"at":"2026-11-25T07:0%d:00Z","phone":%q,"tap":%d%s}`,
			n, phone, n, more)
	}
	again := fmt.Sprintf(`,"id":%q`, uuid.Must(uuid.NewV7()))
	for _, c := range []struct {
		name   string
		who    map[string]string
		path   string
		body   string
		later  time.Duration
		status int
		says   string // "" for the missing entries: none
	}{
		{"a new phone", nora, "/phone", `{"phone":"` + phone1 + `","new":true}`, 0, 200, ""},
		{"it has three", nora, "/phone", `{"phone":"` + phone1 + `","last":3,"open":` + tapJSON(1, 2, 3) + `}`, 0, 200, ""},
		{"one is sent", nora, "/api/did", turned(phone1, 1, again), 0, 200, "rindkeep/did/"},
		{"it's sent again", nora, "/api/did", turned(phone1, 1, again), 0, 200, "rindkeep/known/"},
		{"a round takes hours", nora, "/phone", `{"phone":"` + phone2 + `","last":1}`, 5 * time.Hour, 200, ""},
		{"but not all day", nora, "/phone", `{"phone":"` + phone2 + `","last":1}`, 8 * time.Hour, 200,
			`{"phone":"` + phone1 + `","this_phone":false,"cleared":false,"by":"Nora","entries":2,` +
				`"from":"2026-11-25T07:02:00Z","to":"2026-11-25T07:03:00Z","heard":"2026-11-25T08:00:00Z"}`},
		{"no business of another's", bram, "/phone", `{"phone":"` + phone2 + `","last":1}`, 0, 200, ""},
		{"a new phone of hers is told at once", nora, "/phone", `{"phone":"` + phone2 + `","new":true}`, 0, 200,
			`"entries":2`},
		{"cleared, it knows of a fourth", nora, "/phone", `{"phone":"` + phone1 + `","cleared":true,"last":4,"had":` +
			tapJSON(3, 4) + `}`, 0, 200,
			`"this_phone":true,"cleared":true,"by":"Nora","entries":3,"from":"2026-11-25T07:02:00Z"`},
		{"told until she has seen to it", nora, "/phone", `{"phone":"` + phone1 + `","last":4}`, 0, 200, `"entries":3`},
		{"one turns up", nora, "/api/did", turned(phone1, 3, `,"twice":true`), 0, 200, "rindkeep/did/"},
		{"two are left", nora, "/phone", `{"phone":"` + phone1 + `","last":4}`, 0, 200, `"entries":2`},
		{"seen to", nora, "/phone", `{"phone":"` + phone1 + `","last":4,"seen":["` + phone1 + `"]}`, 0, 200, ""},

		{"Nora's next entries", nora, "/phone",
			`{"phone":"` + phone1 + `","last":6,"open":` + tapJSON(5, 6) + `}`, 0, 200, ""},
		{"Bram opens her phone", bram, "/phone", `{"phone":"` + phone1 + `","last":7,"open":` + tapJSON(5, 6, 7) + `}`,
			0, 200, ""},
		{"it's cleared, and what's missing stays hers", bram, "/phone", `{"phone":"` + phone1 + `","cleared":true,"last":7}`,
			0, 200, `"by":"Nora","entries":2,"from":"2026-11-25T07:05:00Z","to":"2026-11-25T07:06:00Z"`},
		{"and his is his", bram, "/phone", `{"phone":"` + phone1 + `","last":7}`, 0, 200, `"by":"Bram","entries":1`},
		{"she is told elsewhere", nora, "/phone", `{"phone":"` + phone2 + `","last":1}`, 0, 200, `"by":"Nora","entries":2`},
		{"he sees to his", bram, "/phone", `{"phone":"` + phone1 + `","last":7,"seen":["` + phone1 + `"]}`, 0, 200,
			`"missing":[{"phone":"` + phone1 + `","this_phone":true,"cleared":true,"by":"Nora"`},

		{"no phone", nora, "/phone", `{"last":4}`, 0, 400, "phone"},
		{"no JSON", nora, "/phone", `{"phone":"x"}`, 0, 400, "can't read what the phone has"},
		{"no number", nora, "/api/did", `{"job":"turn","wheels":["a"],"phone":"` + phone1 + `"}`, 0, 400,
			"whole number from 1"},
		{"no name of a phone", nora, "/api/did", `{"job":"turn","wheels":["a"],"phone":"mine","tap":1}`, 0, 400,
			"isn't a UUID"},
		{"a reader has nothing", with(isJSON, "Cookie", st.person("Ida", access.Reader)["Cookie"]), "/phone",
			`{"phone":"` + phone1 + `"}`, 0, 403, "read-only"},
		{"nor has a stranger", isJSON, "/phone", `{"phone":"` + phone1 + `"}`, 0, 303, ""},
	} {
		st.now = st.now.Add(c.later)
		r := st.do("POST", c.path, c.who, c.body)
		said := saidBy(t, r)
		if r.StatusCode != c.status {
			t.Errorf("%s: %d\n%s", c.name, r.StatusCode, said)
			continue
		}
		if c.says == "" && c.status == 200 {
			c.says = `"missing":[]`
		}
		if c.status == 200 {
			said = strings.Join(strings.Fields(said), "")
		}
		if !strings.Contains(said, c.says) {
			t.Errorf("%s: want %s\n%s", c.name, c.says, said)
		}
	}
}

// What is known of wheels before they're weighed; no wheel's tag is an error.
func TestBeforeAWheelIsWeighed(t *testing.T) {
	st := newStage(t)
	weigh := func(w string) {
		t.Helper()
		if r := st.do("POST", "/api/weigh", isJSON, `{"wheel":"a","weight":"`+w+`"}`); r.StatusCode != 200 {
			t.Fatal(saidBy(t, r))
		}
		st.now = st.now.Add(72 * time.Hour)
	}
	ask := func() string {
		return strings.Join(strings.Fields(saidBy(t, st.do("GET", "/before?tags=a,nobody", nil, ""))), " ")
	}
	const first = `"wheel": "a", "last_g": null, "low_g": null, "high_g": null, "said": "never weighed yet"`
	if is := ask(); !strings.Contains(is, first) ||
		strings.Contains(is, "nobody") {
		t.Error(is)
	}
	weigh("6000g")
	if is := ask(); !strings.Contains(is, `"last_g": 6000, "low_g": 5`) || !strings.Contains(is,
		`"said": "last 6000 g on 25 Nov; now probably 5`) {
		t.Error(is)
	}
}

// A tap with its number costs no more than one without: it's the same transaction.
func BenchmarkATap(b *testing.B) {
	for _, more := range []string{"", `,"phone":"` + phone1 + `","tap":`} {
		b.Run(fmt.Sprintf("numbered=%t", more != ""), func(b *testing.B) {
			st := newStage(b)
			for i := 0; b.Loop(); i++ {
				n := more
				if n != "" {
					n += fmt.Sprint(i + 1)
				}
				st.now = st.now.Add(time.Minute)
				if r := st.do("POST", "/api/did", isJSON, `{"job":"turn","wheels":["a"],"twice":true`+n+`}`); r.StatusCode != 200 {
					b.Fatal(saidBy(b, r))
				}
			}
		})
	}
}
