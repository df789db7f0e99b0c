// Package reason holds why something is so, as data: a code with its figures,
// typed, from where it is decided up to the edge that shows it. It knows no
// sentence; cmd/words turns reasons into the reader's language and units.
package reason

// Reason is one reason: a small comparable struct whose exported fields are its
// figures, each with its unit in the type or the JSON name.
type Reason interface {
	// Code names the kind of reason for programs. Codes are published: they
	// are added, never renamed.
	Code() string
}

// List is several reasons, the weightiest first. Reasons compare with ==, so
// two lists can be told apart, and merged, without reading any words.
type List []Reason
