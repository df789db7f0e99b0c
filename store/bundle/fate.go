package bundle

// Fate is what became of a bundle.
type Fate string

// The fates of bundles. Only the first two change the book or need nothing more.
const (
	TakenUp      Fate = "taken"
	Repeated     Fate = "repeated"     // the book has it all
	Early        Fate = "early"        // something before it hasn't come yet
	UnknownKey   Fate = "unknown-key"  // nobody has said that this key may write as that site
	BeyondWord   Fate = "revoked"      // its key was revoked before that link, or its invitation
	AfterLeaving Fate = "left"         // its site had left before that link
	Forked       Fate = "forked"       // another copy of that site's book wrote the same link otherwise
	Unfit        Fate = "unfit"        // its key signed what no book can have written
	NameTaken    Fate = "name-taken"   // the book has another site under that name already
	OtherGroup   Fate = "other-group"  // it's of another shared book
	NewerSender  Fate = "newer-sender" // a newer program wrote it
	OtherZone    Fate = "other-zone"   // its book has another time zone: dates would differ
)
