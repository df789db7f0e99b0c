// Package reason holds why something is so, as data: a code with its figures, typed, from where it is decided up to
// the edge that shows it. It knows no sentence; cmd/words turns reasons into the reader's language and units.
//
// Each package that gives reasons declares a small type for each and registers it under a number, which the index
// of what is due is written with. Numbers are never changed or used again. The blocks: schedule 1 to 99,
// wheel/verdict 100 to 199, wheel 200 to 299, wheel/drying 300 to 399, cave 400 to 499, store 500 to 699, cmd/app
// 700 to 999.
package reason

import "slices"

// Reason is one reason: a small comparable struct whose exported fields are its
// figures, each with its unit in the type or the JSON name.
type Reason interface {
	// Code names the kind of reason for programs. Codes are published: they are added, never renamed.
	Code() string
}

// List is several reasons, the weightiest first. Reasons compare with ==, so
// two lists can be told apart, and merged, without reading any words.
type List []Reason

// Equal says whether two lists give the same reasons in the same order.
func (l List) Equal(o List) bool { return slices.Equal(l, o) }

// Common is what two lists share from their beginning: "daily, last Monday" and
// "daily, last Tuesday" share "daily".
func (l List) Common(o List) List {
	n := 0
	for n < min(len(l), len(o)) && l[n] == o[n] {
		n++
	}
	return l[:n:n]
}

// ListOf is a list of one reason; empty for nil.
func ListOf(r Reason) List {
	if r == nil {
		return nil
	}
	return List{r}
}
