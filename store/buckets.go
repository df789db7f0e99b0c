package store

import (
	"encoding/binary"
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/store/pack"
)

// The buckets of facts.
const (
	bBook      = "book"      // format -> number; settings -> JSON; derivation -> number
	bMakes     = "makes"     // make -> JSON
	bWheels    = "wheels"    // wheel -> JSON, as it came
	bRooms     = "rooms"     // name -> JSON
	bVarieties = "varieties" // name -> TOML, the user's own
	bPlans     = "plans"     // name -> TOML, the user's own
	bEntries   = "entries"   // subject | at | entry -> packed entry
	bAir       = "air"       // room | 0 | at -> packed reading
)

// bChain, with the links over all of these, is in chain.go.

// The derived buckets: all of them follow from the facts.
const (
	bIDs        = "ids"        // entry -> subject | at; or as ids.go says
	bLots       = "lots"       // lower-cased lot -> make
	bDates      = "dates"      // make date | make; those that were removed left out
	bCorrected  = "corrected"  // make -> JSON, of those that were corrected or removed
	bMakeWheels = "makewheels" // make | number | wheel
	bTags       = "tags"       // lower-cased tag -> wheel
	bHadTags    = "hadtags"    // lower-cased tag | 0 | wheel; every tag of wheels that were given another
	bPlaces     = "places"     // place | 0 | wheel -> tag
	bShelves    = "shelves"    // place -> how many wheels lie there
	bStandings  = "standings"  // wheel -> packed standing
	bDue        = "due"        // due | place | 0 | job rank | wheel | seq -> packed task
	bOutlooks   = "outlooks"   // wheel that waits for its coat -> packed outlook
	bCurves     = "curves"     // make | alike -> packed curve
	bCounts     = "counts"     // counts -> JSON
)

var factBuckets = []string{bBook, bMakes, bWheels, bRooms, bVarieties, bPlans, bEntries, bAir, bChain}

var derivedBuckets = []string{
	bIDs, bLots, bDates, bCorrected, bMakeWheels, bTags, bHadTags, bPlaces, bShelves, bStandings, bDue, bOutlooks,
	bCurves, bCounts,
}

// mayLack says whether a book from before there was such a bucket is sound without it:
// one of facts has none yet, and a derived one is made when the book is next written.
func mayLack(name string) bool {
	return name == bCorrected || name == bOutlooks || name == bHadTags || name == bCurves ||
		slices.Contains(laterBuckets, name)
}

// plain is the value of an index whose key says it all.
var plain = []byte{pack.Version}

func versioned(b []byte) []byte { return append([]byte{pack.Version}, b...) }

func idValue(id uuid.UUID) []byte { return versioned(id[:]) }

func decodeID(b []byte) (id uuid.UUID, err error) {
	if len(b) != 17 || b[0] != pack.Version {
		return id, pack.ErrForm
	}
	copy(id[:], b[1:])
	return id, nil
}

// fold is the form under which a lot or tag is looked up.
func fold(name string) []byte { return []byte(strings.ToLower(name)) }

func makeWheelKey(mk uuid.UUID, number int, w uuid.UUID) []byte {
	b := append(make([]byte, 0, 36), mk[:]...)
	b = binary.BigEndian.AppendUint32(b, uint32(number))
	return append(b, w[:]...)
}

func placeKey(p cave.Place, w uuid.UUID) []byte {
	b := append(make([]byte, 0, len(p)+17), p...)
	b = append(b, 0)
	return append(b, w[:]...)
}

func hadTagKey(tag string, w uuid.UUID) []byte { return append(append(fold(tag), 0), w[:]...) }

func dateBytes(b []byte, d day.Date) []byte {
	return binary.BigEndian.AppendUint32(b, uint32(d)^1<<31)
}

func dateOf(b []byte) day.Date { return day.Date(binary.BigEndian.Uint32(b) ^ 1<<31) }

func makeDateKey(d day.Date, mk uuid.UUID) []byte {
	return append(dateBytes(make([]byte, 0, 20), d), mk[:]...)
}

// slot is where one task of a wheel stands in the due index, beside the
// wheel's place.
type slot struct {
	due  day.Date
	rank byte
	seq  byte
}

func dueKey(s slot, p cave.Place, w uuid.UUID) []byte {
	b := dateBytes(make([]byte, 0, 4+len(p)+1+1+16+1), s.due)
	b = append(b, p...)
	b = append(b, 0, s.rank)
	b = append(b, w[:]...)
	return append(b, s.seq)
}

// splitDueKey takes a due key apart; place is given as its bytes in the key.
func splitDueKey(k []byte) (s slot, place []byte, w uuid.UUID, ok bool) {
	n := len(k) - (4 + 1 + 1 + 16 + 1)
	if n < 0 || k[4+n] != 0 {
		return s, nil, w, false
	}
	s = slot{due: dateOf(k), rank: k[4+n+1], seq: k[len(k)-1]}
	copy(w[:], k[4+n+2:])
	return s, k[4 : 4+n], w, true
}
