package page

import (
	"encoding/json"
	"io"
	"net/http"
	"strconv"
	"time"

	"github.com/google/uuid"

	"rindkeep/cmd/app/round"
	"rindkeep/store/register"
)

// onPhone is what the round's script sends about the entries it has.
type onPhone struct {
	Phone   uuid.UUID   `json:"phone"`
	New     bool        `json:"new"`
	Cleared bool        `json:"cleared"`
	Last    int         `json:"last"`
	Open    []tap       `json:"open"`
	Had     []tap       `json:"had"`
	Seen    []uuid.UUID `json:"seen"`
}

type tap struct {
	Number int       `json:"n"`
	At     time.Time `json:"at"`
}

func taps(all []tap) []register.Tap {
	var out []register.Tap
	for _, t := range all[:min(len(all), register.MostTaps)] {
		out = append(out, register.Tap{Number: t.Number, At: t.At.UTC().Truncate(time.Millisecond)})
	}
	return out
}

// announced takes note of what a phone has, and answers what is missing. It's no part
// of the API: only the round's own script knows what it has.
func (s *Server) announced(w http.ResponseWriter, r *http.Request) {
	var q onPhone
	body, err := io.ReadAll(r.Body)
	if err == nil {
		err = json.Unmarshal(body, &q)
	}
	if err != nil || q.Last < 0 {
		s.say(w, http.StatusBadRequest, Refusal{Error: "can't read what the phone has", Exit: 2})
		return
	}
	c := s.callOf(r)
	doc, err := inTurn(c, func(c *call) (round.Missing, error) {
		return round.Announce(c.ctx, c.app, c.caller, round.OnPhone{Phone: q.Phone, New: q.New, Cleared: q.Cleared,
			Last: q.Last, Open: taps(q.Open), Had: taps(q.Had), Seen: q.Seen})
	})
	s.answer(w, r, doc, err)
}

// entered is the phone an act was entered on and its number there; zero if it wasn't.
func (v values) entered() (phone uuid.UUID, number int, err error) {
	word := v.text("phone")
	if word == "" {
		return phone, 0, nil
	}
	if phone, err = uuid.Parse(word); err != nil {
		return phone, 0, badRequestf("phone", "phone isn't a UUID (RFC 9562): %s", short(word))
	}
	if number, err = strconv.Atoi(v.text("tap")); err != nil || number < 1 {
		return phone, 0, badRequestf("tap", "tap must be a whole number from 1")
	}
	return phone, number, nil
}
