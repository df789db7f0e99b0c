// Package layout says how a book lies in its file: its buckets, which of them hold facts
// and which follow from them, their numbers in the chain of history, and their keys.
//
// Keys are big-endian, so that their order is that of time or of a walk. A value here is a
// version byte and an identity or a text; what else a record says is another package's.
// The package opens no file.
package layout

import (
	"bytes"
	"slices"
)

// The buckets of facts. Those from Customers on came later: an older book has none of
// them, and each is made when its first record is written.
const (
	Book       = "book"       // format -> number; settings -> JSON; derivation -> number
	Makes      = "makes"      // make -> JSON
	Wheels     = "wheels"     // wheel -> JSON, as it came
	Rooms      = "rooms"      // name -> JSON
	Varieties  = "varieties"  // name -> TOML, the user's own
	Plans      = "plans"      // name -> TOML, the user's own
	Entries    = "entries"    // subject | at | entry -> packed entry
	Air        = "air"        // room | 0 | at -> packed reading
	Chain      = "chain"      // number -> packed link over all of these
	Customers  = "customers"  // lower-cased name -> JSON; who wheels go to
	Photos     = "photos"     // digest of the bytes -> JPEG; a note names its picture
	Laws       = "laws"       // name -> TOML, the user's own rules
	Follows    = "follows"    // written, ms | follow -> JSON; whose law the book follows
	Releasers  = "releasers"  // written, ms | releasers -> JSON; who may lift safety holds
	Limits     = "limits"     // name -> TOML, the user's own limits of laboratory tests
	Sites      = "sites"      // written, ms | site -> JSON; where the book's cheese is kept
	Mappings   = "mappings"   // lower-cased name -> JSON; how tables that people bring are read
	AirSources = "airsources" // number -> JSON; who entered readings of the air
	Lifts      = "lifts"      // written, ms | lift -> JSON; what ended safety holds where no entry says so
	Pacts      = "pacts"      // written, ms | pact -> JSON; which sites share the book
)

// The buckets that only a book of several sites has. They hold what other sites wrote as it
// came, and what it takes to tell whose record stands where two sites wrote one.
const (
	Bundles  = "bundles"  // site | epoch | number of its last link -> bundle as it came
	Heads    = "heads"    // site | epoch -> JSON; how far the book has it. "own" -> JSON; which site it is
	Aside    = "aside"    // code | key | 0 | digest -> record that gave way to another site's, or didn't come to stand
	Stood    = "stood"    // code | key -> when the record that stands was written, ms | site
	Versions = "versions" // code | key | 0 | digest | digest of the record it took the place of -> as Stood
	Waiting  = "waiting"  // wheel or make | code | key -> fact about it, which the book hasn't got yet
	// Branches has site | epoch | number of its last link | digest -> bundle as it came, of an epoch in
	// which two computers wrote: what one of them wrote, as a fact of a site that took it. While its
	// key isn't known, Waiting has it under no wheel or make.
	Branches = "branches"
)

// The derived buckets: all of them follow from the facts.
const (
	IDs        = "ids"        // entry -> subject | at; or as EntryIndex says
	Lots       = "lots"       // lower-cased lot -> make
	Dates      = "dates"      // make date | make; those that were removed left out
	Corrected  = "corrected"  // make -> JSON, of those that were corrected or removed
	MakeWheels = "makewheels" // make | number | wheel
	Tags       = "tags"       // lower-cased tag -> wheel
	HadTags    = "hadtags"    // lower-cased tag | 0 | wheel; every tag of wheels that were given another
	Places     = "places"     // place | 0 | wheel -> tag
	Shelves    = "shelves"    // place -> how many wheels lie there
	Standings  = "standings"  // wheel -> packed standing
	Due        = "due"        // due | place | 0 | job rank | wheel | seq -> packed task
	Outlooks   = "outlooks"   // wheel that waits for its coat -> packed outlook
	Curves     = "curves"     // make | alike -> packed curve
	Counts     = "counts"     // counts -> JSON
	// Twins has bucket | 0 | name | 0 | make or wheel -> others of a lot code or tag; under Wheels
	// and no name, the wheels of which two sites say what can't both be so.
	Twins = "twins"
)

var (
	// Facts are the buckets of facts that every book has.
	Facts = []string{Book, Makes, Wheels, Rooms, Varieties, Plans, Entries, Air, Chain}
	// LaterFacts are those that a book of this format need not have.
	LaterFacts = []string{Customers, Photos, Laws, Follows, Releasers, Limits, Sites, Mappings, Lifts, AirSources, Pacts}
	// Shared are those of a book of several sites.
	Shared = []string{Bundles, Heads, Aside, Stood, Versions, Waiting, Branches}
	// Derived are the buckets that follow from them.
	Derived = []string{
		IDs, Lots, Dates, Corrected, MakeWheels, Tags, HadTags, Places, Shelves, Standings, Due, Outlooks,
		Curves, Counts, Twins,
	}
	// ChainOrder is the order in which facts that are there already are chained.
	ChainOrder = []string{
		Book, Rooms, Plans, Varieties, Laws, Follows, Releasers, Limits, Sites, Mappings, Lifts, Pacts,
		Customers, Makes, Wheels, Photos, Entries, AirSources, Air, Branches,
	}
)

// ByClock are the buckets where the record that was written later takes another site's place.
var ByClock = map[string]bool{
	Plans: true, Varieties: true, Laws: true, Limits: true, Customers: true, Rooms: true, Mappings: true,
}

// AnySite are those of ByClock that every site may write, and of which Versions tells whether two
// sites wrote one without having heard of each other.
var AnySite = map[string]bool{Plans: true, Varieties: true, Laws: true, Limits: true, Customers: true}

// IsDerived says whether a bucket is one of Derived.
func IsDerived(bucket string) bool { return derived[bucket] }

var derived = func() map[string]bool {
	m := map[string]bool{}
	for _, name := range Derived {
		m[name] = true
	}
	return m
}()

// KeysOnly are the indexes whose keys say it all: nobody decodes their values.
var KeysOnly = map[string]bool{
	IDs: true, Dates: true, MakeWheels: true, Places: true, Shelves: true, Outlooks: true, Due: true,
	HadTags: true, Twins: true,
}

// ByWritten are the buckets of facts with a WrittenKey.
var ByWritten = map[string]bool{Follows: true, Releasers: true, Sites: true, Lifts: true, Pacts: true}

// MayLack says whether a book from before there was such a bucket is sound without it:
// one of facts has none yet, and a derived one is made when the book is next written.
func MayLack(bucket string) bool {
	return bucket == Corrected || bucket == Outlooks || bucket == HadTags || bucket == Curves ||
		bucket == Twins || slices.Contains(LaterFacts, bucket) || slices.Contains(Shared, bucket)
}

// Codes are the numbers that buckets of facts have in links of the chain. They are never
// changed or used again. The bit 0x10 is never in them.
var Codes = map[string]byte{
	Book: 1, Makes: 2, Wheels: 3, Rooms: 4, Varieties: 5, Plans: 6, Entries: CodeEntry, Air: 8,
	Customers: 9, Photos: 10, Laws: 11, Follows: 12, Releasers: 13, Limits: 14, Sites: 15,
	Mappings: 0x20, Lifts: 0x21, AirSources: 0x22, Pacts: 0x40, Branches: 0x41,
}

// CodeEntry is the number of Entries.
const CodeEntry = 7

// OfCode has the bucket of each number; "" where there is none.
var OfCode = func() (out [0x42]string) {
	for b, c := range Codes {
		out[c] = b
	}
	return out
}()

// SettingsKey is the only record of Book that is history.
var SettingsKey = []byte("settings")

// InChain says whether a record is a fact that the chain covers.
func InChain(bucket string, key []byte) bool {
	return Codes[bucket] != 0 && (bucket != Book || bytes.Equal(key, SettingsKey))
}
