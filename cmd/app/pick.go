package app

import (
	"cmp"
	"errors"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// MaxWord is the longest word that can name wheels, in bytes.
const MaxWord = 3*cave.MaxName + 3

// Pick finds the wheels that words name: tags, runs of them (261120A-01..12), lots,
// places, all, and beginnings with a trailing *. Each wheel comes once, in the order it was named; wheels that
// are gone are left out unless named by their own tag. Words that name nothing
// are an error, which names them all.
func (s *Session) Pick(words []string) ([]derive.WheelState, error) {
	if s.picked != nil {
		return s.picked, nil
	}
	if all := len(words) == 1 && strings.EqualFold(words[0], "all"); all && s.most > 0 {
		if n, err := s.Tx.Counts(); err != nil || n.Here > s.most {
			return nil, cmp.Or(err, error(tooMany{})) // they're listed while nobody waits for it
		}
	} else if all && s.Write == nil {
		return s.everyWheel()
	}
	var out []derive.WheelState
	seen := map[uuid.UUID]bool{} // by wheel, whether a word named it alone
	done := map[string]bool{}    // a repeated word adds nothing, and may cost a scan of the book
	var unknown *Refusal
	for _, group := range words {
		for word := range strings.SplitSeq(group, ",") {
			word = strings.TrimSpace(word)
			if word == "" || done[word] {
				continue
			}
			done[word] = true
			found, err := s.PickWord(word)
			switch {
			case IsNotFound(err) && unknown != nil:
				unknown.Also = append(unknown.Also, word)
			case IsNotFound(err):
				unknown = AsRefusal(About(word, err))
			case err != nil:
				return nil, err
			}
			for _, w := range found {
				if alone, ok := seen[w.Wheel]; !ok {
					out = append(out, w)
				} else if alone {
					continue
				}
				seen[w.Wheel] = len(found) == 1
			}
		}
	}
	if unknown != nil {
		return nil, unknown
	}
	if s.most > 0 && (len(out) > s.most || s.Write != nil && shares(out) > s.most) {
		return nil, tooMany{out}
	}
	var err error
	return slices.DeleteFunc(out, func(w derive.WheelState) bool { // one harmed wheel doesn't stop the others
		ok := true
		if s.Write != nil && !seen[w.Wheel] && err == nil {
			ok, err = s.Tx.Usable(w.Wheel)
		}
		return !ok
	}), err
}

// Printable says whether a word can be shown as it is: short, and without
// control or invisible characters.
func Printable(word string) bool {
	return len(word) <= MaxWord && !strings.ContainsFunc(word, func(r rune) bool {
		return unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp)
	})
}

// PickWord is Pick for one word.
func (s *Session) PickWord(word string) ([]derive.WheelState, error) {
	switch {
	case len(word) > MaxWord:
		return nil, Refuse(NameTooLong{Bytes: len(word)}).In("what")
	case !Printable(word):
		return nil, Refuse(NameUnprintable{}).In("what")
	case strings.EqualFold(word, "all"):
		return s.everyWheel()
	case strings.HasSuffix(word, "*"):
		return s.pickPrefix(word, strings.TrimSuffix(word, "*"))
	case strings.Contains(word, "/"):
		return s.pickPlace(word)
	case tagRange().MatchString(word) && !s.Tx.HasTag(word):
		return s.pickRange(word)
	}
	w, werr := s.Tx.WheelByTag(word)
	if werr == nil {
		st, err := s.Tx.State(w.ID)
		return []derive.WheelState{st}, err
	}
	m, lerr := s.Tx.MakeByLot(word)
	if IsNotFound(werr) && lerr == nil {
		return s.WheelsHere(m.ID)
	}
	_, rerr := s.Tx.Room(word)
	if IsNotFound(werr) && IsNotFound(lerr) && rerr == nil {
		return s.pickPlace(word)
	}
	for _, err := range []error{werr, lerr, rerr} {
		if !IsNotFound(err) {
			return nil, err
		}
	}
	if came, err := s.ReceivedAs(word); err != nil || len(came) > 0 {
		return slices.DeleteFunc(came, func(w derive.WheelState) bool { return !w.Here() }), err
	}
	if st, err := s.ByNumber(word); err != nil || st.Tag != "" {
		return []derive.WheelState{st}, err
	}
	if had, err := s.Tx.HadTag(word); err != nil || len(had) > 0 || strings.Contains(word, "-") {
		return nil, cmp.Or(err, About(word, s.NoTag(word, werr)))
	}
	near := slices.Concat(nearest(lerr), nearest(rerr), nearest(werr))
	return nil, About(word, refusal.NotFound{Thing: "wheel, lot or place", Name: word, Near: near[:min(3, len(near))]})
}

// NowTagged is a remedy, and a warning: wheels that had a tag have another.
type NowTagged struct {
	Was string `json:"was"`
	Now string `json:"now"` // tags, separated by ", "
}

// Code implements reason.Reason.
func (NowTagged) Code() string { return "now-tagged" }

// HadTag lists the wheels that had a tag and have another now. Labels with it may be about.
func (s *Session) HadTag(tag string) (out []derive.WheelState, err error) {
	ids, err := s.Tx.HadTag(tag)
	for _, id := range ids {
		st, serr := s.Tx.State(id)
		if err = cmp.Or(err, serr); err == nil && !strings.EqualFold(st.Tag, tag) {
			out = append(out, st)
		}
	}
	return out, err
}

// shortTag is a wheel's number alone, as it may stand behind the lot in its tag.
var shortTag = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^-?\d{1,6}$`)
})

// ShortTag says whether a word may be such a number.
func ShortTag(word string) bool { return shortTag().MatchString(word) }

// ByNumber finds the wheel that is here and whose tag ends in a number, where no other
// does: 3 is 261120A-03, or W3. The zero state is none; several are refused.
func (s *Session) ByNumber(word string) (st derive.WheelState, err error) {
	if !shortTag().MatchString(word) {
		return st, nil
	}
	n, _ := strconv.Atoi(strings.TrimPrefix(word, "-"))
	ws, err := s.everyWheel()
	ws = slices.DeleteFunc(ws, func(w derive.WheelState) bool {
		digits := strings.TrimLeftFunc(w.Tag[strings.LastIndexByte(w.Tag, '-')+1:], unicode.IsLetter) // W07
		end, err := strconv.Atoi(digits)
		return err != nil || end != n
	})
	switch {
	case err != nil || len(ws) == 0:
		return st, err
	case len(ws) == 1:
		return ws[0], nil
	}
	const most = 6
	why := SharedNumber{Word: word, Wheels: len(ws)}
	why.Tags = strings.Join(Tags(ws[:min(most, len(ws))]), " ")
	return st, Misuse("what", why)
}

// tagRange is the first tag of a run, and the last or its number.
var tagRange = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^(.*-)(\d{1,6})\.\.(?:(.*-))?(\d{1,6})$`)
})

// pickRange lists the wheels that are here whose tags begin alike and end in the numbers
// of a run. Its first and its last tag must be wheels', so that a slip isn't a whole lot.
func (s *Session) pickRange(word string) ([]derive.WheelState, error) {
	m := tagRange().FindStringSubmatch(word)
	first, _ := strconv.Atoi(m[2])
	last, _ := strconv.Atoi(m[4])
	if m[3] != "" && !strings.EqualFold(m[3], m[1]) || last < first {
		return nil, Refuse(BadRange{Word: word}).Of(word)
	}
	ws, err := s.Tx.TagsStarting(m[1])
	if err != nil {
		return nil, err
	}
	ends := map[int]bool{}
	out := slices.DeleteFunc(ws, func(w derive.WheelState) bool {
		n, err := strconv.Atoi(w.Tag[len(m[1]):])
		ends[n] = ends[n] || err == nil
		return err != nil || n < first || n > last || !w.Here()
	})
	for i, n := range []int{first, last} {
		if !ends[n] {
			tag := m[1] + []string{m[2], m[4]}[i]
			return nil, About(tag, s.NoTag(tag, refusal.NotFound{Thing: "wheel", Name: tag}))
		}
	}
	SortByTag(out)
	return out, nil
}

// ReceivedAs lists the wheels that came from a supplier under its own lot code, in any
// case; none if no such wheel came. It goes through all entries.
func (s *Session) ReceivedAs(code string) ([]derive.WheelState, error) {
	var ids []uuid.UUID
	err := s.Tx.EachLogged(s.Ctx, history.Query{Kind: wheel.Received, Match: func(e history.Logged) bool {
		return !e.Struck && strings.EqualFold(e.Arrival().Lot, code)
	}}, func(e history.Logged) error {
		ids = append(ids, e.Subject)
		return nil
	})
	var out []derive.WheelState
	for _, id := range ids {
		st, serr := s.Tx.State(id)
		if IsNotFound(serr) { // of a make that was removed
			continue
		}
		out, err = append(out, st), errors.Join(err, serr)
	}
	SortByTag(out)
	return out, err
}

// Past is what one word names in a question about the past: of a lot, and of tags
// that begin alike, wheels that are gone too.
type Past struct {
	Word   string      // the tag or the lot as the book writes it, else the word
	Make   *wheel.Make // of the lot; nil: the word names none
	Wheels []uuid.UUID
}

// PickPast finds the wheels that words name in a question about the past.
func (s *Session) PickPast(words []string) ([]Past, error) {
	var out []Past
	for _, group := range words {
		for word := range strings.SplitSeq(group, ",") {
			if word = strings.TrimSpace(word); word == "" {
				continue
			}
			p, err := s.pickPast(word)
			if err != nil {
				return nil, err
			}
			out = append(out, p)
		}
	}
	return out, nil
}

func (s *Session) pickPast(word string) (Past, error) {
	p := Past{Word: word}
	if Printable(word) && !s.Tx.HasTag(word) {
		m, err := s.Tx.MakeByLot(word)
		if err == nil {
			ws, err := s.Tx.WheelsOf(m.ID)
			p.Wheels = Each(ws, func(w wheel.Wheel) uuid.UUID { return w.ID })
			p.Word, p.Make = m.Lot, &m
			return p, err
		}
		if !IsNotFound(err) {
			return p, err
		}
		if prefix, ok := strings.CutSuffix(word, "*"); ok && !strings.ContainsAny(prefix, "*/") {
			ws, err := s.Tx.TagsStarting(prefix)
			if p.Wheels = IDs(ws); err != nil || len(ws) > 0 {
				return p, err
			}
		}
	}
	ws, err := s.PickWord(word)
	if len(ws) == 1 && strings.EqualFold(ws[0].Tag, word) {
		p.Word = ws[0].Tag
	}
	p.Wheels = IDs(ws)
	return p, err
}

// IDs are the wheels' IDs, in order.
func IDs(ws []derive.WheelState) []uuid.UUID {
	return Each(ws, func(w derive.WheelState) uuid.UUID { return w.Wheel })
}

func nearest(err error) []string {
	var nf refusal.NotFound
	errors.As(err, &nf)
	return nf.Near
}

// Of several sites that share the book it's this one's.
func (s *Session) everyWheel() ([]derive.WheelState, error) {
	ws, err := s.here()
	if _, shared := s.Tx.Own(); shared {
		ws = slices.DeleteFunc(ws, func(w derive.WheelState) bool { return w.Place.Site() != "" })
	}
	SortByTag(ws)
	return ws, err
}

// here lists every wheel that is here.
func (s *Session) here() ([]derive.WheelState, error) {
	n, err := s.Tx.Counts()
	if err != nil {
		return nil, err
	}
	out := make([]derive.WheelState, 0, n.Here)
	for w, err := range s.Tx.States() {
		if err != nil {
			return nil, err
		}
		if w.Here() {
			out = append(out, w)
		}
	}
	return out, nil
}

// NoTag is the refusal of a tag that isn't there. Where its lot is, the remedy
// names the lot's wheels.
func (s *Session) NoTag(tag string, err error) error {
	if had, herr := s.HadTag(tag); herr == nil && len(had) > 0 {
		r := AsRefusal(err)
		r.Remedy = reason.List{NowTagged{tag, strings.Join(Tags(had), ", ")}}
		return r
	}
	i := strings.LastIndexByte(tag, '-')
	if i < 0 || !Printable(tag[:i]) {
		return err
	}
	m, merr := s.Tx.MakeByLot(tag[:i])
	if merr != nil {
		return err
	}
	ws, werr := s.Tx.WheelsOf(m.ID)
	if werr != nil || len(ws) == 0 {
		return err
	}
	tags := Each(ws, func(w wheel.Wheel) string { return w.Tag })
	r := AsRefusal(err)
	near := nearest(err)
	if len(near) > 0 && !slices.ContainsFunc(near, func(n string) bool { return !slices.Contains(tags, n) }) {
		r.Remedy = append(r.Remedy, DidYouMean{Names: strings.Join(near, ", ")})
	}
	r.Remedy = append(r.Remedy, LotHas{Lot: m.Lot, Tags: strings.Join(tags, " ")})
	return r
}

func (s *Session) pickPrefix(word, prefix string) ([]derive.WheelState, error) {
	if strings.Contains(prefix, "*") {
		return nil, Refuse(StarInside{Word: word}).Of(word)
	}
	if strings.Contains(prefix, "/") {
		return s.pickPlaces(word, prefix)
	}
	out, err := s.Tx.TagsStarting(prefix)
	if err != nil {
		return nil, err
	}
	out = slices.DeleteFunc(out, func(w derive.WheelState) bool { return !w.Here() })
	if len(out) == 0 {
		return nil, About(word, refusal.NotFound{Thing: "wheel whose tag begins with", Name: prefix})
	}
	SortByTag(out)
	return out, nil
}

func (s *Session) pickPlaces(word, prefix string) ([]derive.WheelState, error) {
	places, err := s.Tx.PlacesStarting(prefix)
	if err != nil {
		return nil, err
	}
	var out []derive.WheelState
	for _, p := range places {
		ws, err := s.Tx.WheelsAt(p)
		if err != nil {
			return nil, err
		}
		for _, w := range ws {
			if w.Place == p {
				out = append(out, w)
			}
		}
	}
	if len(out) == 0 {
		return nil, About(word, refusal.NotFound{Thing: "place with wheels that begins with", Name: prefix})
	}
	return out, nil
}

func (s *Session) pickPlace(word string) ([]derive.WheelState, error) {
	p, err := cave.ParsePlace(word)
	if err != nil {
		return nil, About(word, err)
	}
	r, err := s.Tx.Room(p.Room())
	if err != nil {
		return nil, About(word, err)
	}
	if _, rest, deeper := strings.Cut(string(p), "/"); deeper {
		return s.Tx.WheelsAt(cave.Place(r.Name + "/" + rest))
	}
	return s.Tx.WheelsAt(cave.Place(r.Name))
}

// HereOf are the wheels here of the makes that bear says so of.
func (s *Session) HereOf(bear func(wheel.Make) (bool, error)) (ids []uuid.UUID, err error) {
	for m, err := range s.Tx.Makes() {
		if err != nil {
			return nil, err
		}
		if ok, err := bear(m); err != nil {
			return nil, err
		} else if !ok {
			continue
		}
		ws, err := s.WheelsHere(m.ID)
		if err != nil {
			return nil, err
		}
		ids = append(ids, IDs(ws)...)
	}
	return ids, nil
}

// WheelsHere lists the wheels of a make that aren't gone.
func (s *Session) WheelsHere(mk uuid.UUID) ([]derive.WheelState, error) {
	ws, err := s.Tx.WheelsOf(mk)
	if err != nil {
		return nil, err
	}
	var out []derive.WheelState
	for _, w := range ws {
		st, err := s.Tx.State(w.ID)
		if err != nil {
			return nil, err
		}
		if st.Here() {
			out = append(out, st)
		}
	}
	return out, nil
}

// SortByTag sorts wheels by tag, numbers within tags by their value.
func SortByTag(ws []derive.WheelState) {
	slices.SortFunc(ws, func(a, b derive.WheelState) int { // no two have the same tag
		return cave.NaturalCompare(a.Tag, b.Tag)
	})
}

// Tags are the wheels' tags, in order.
func Tags(ws []derive.WheelState) []string {
	return Filled(Each(ws, func(w derive.WheelState) string { return w.Tag }))
}
