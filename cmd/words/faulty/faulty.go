// Package faulty says what is wrong with files, with the lines of an export and with the pages of
// a book.
package faulty

import (
	"fmt"

	"rindkeep/cave/reason"
	"rindkeep/cmd/text"
	"rindkeep/store/bookfile"
	"rindkeep/store/lines"
)

// lineFaults are what may be wrong with an export; the verbs take its word, other,
// has and wants, as they are numbered.
var lineFaults = map[string]string{
	"too-long":          "is longer than %[4]d bytes: no export has such a line",
	"not-utf-8":         "is not valid text (UTF-8)",
	"cut-off":           "it is cut off after line %[3]d: an export ends with a line \"end\"",
	"no-lines":          "it is empty",
	"no-schema":         "is no beginning of an export: it should be {\"schema\":%[2]q}",
	"other-schema":      "is of schema %[1]q, which this rindkeep doesn't read (it reads %[2]s)",
	"no-book":           "should be the record of the book, and is %[1]q",
	"book-without-id":   "is a book without an ID or a beginning",
	"no-record":         "does not begin with {\"record\":…",
	"field-type":        "its field %[1]s can't be a %[2]s",
	"not-json":          "is no JSON object",
	"field-unknown":     "has a field %[1]q, which its record does not have",
	"unreadable":        "can't be read: %[1]s",
	"two-objects":       "holds more than one JSON object",
	"out-of-order":      "a %[1]s after the first %[2]s: records come in the order that an export writes",
	"record-unknown":    "no sort of record %[1]q",
	"lines-differ":      "says that %[4]d lines come before it, and there are %[3]d",
	"after-end":         "comes after the end",
	"twice":             "that record is in the file already",
	"named-otherwise":   "its text is named %[2]s, not %[1]s",
	"no-hash":           "the hash of the link is no hash",
	"id-twice":          "two entries have the ID %[1]s",
	"round-of-another":  "entry %[1]s shares the round of entry %[2]s, which is not its own subject's",
	"strike-of-another": "entry %[1]s withdraws entry %[2]s, which is not its own subject's",
	"kind-unknown":      "no kind of entry %[1]q",
	"no-answer":         "%[1]q is no answer of a hand check; it is yes or no",
	"question-unknown":  "a hand check that answers what this rindkeep doesn't ask",
}

// Line says what is wrong with a line of an export.
func Line(r lines.Fault) string {
	form, ok := lineFaults[r.Is]
	if !ok {
		return r.Code()
	}
	// Every form takes some of the four; what it leaves over is cut off again.
	return fmt.Sprintf(form+"%[5]s", text.Safe(r.Word), text.Safe(r.Other), r.Has, r.Wants, "")
}

// pageFaults are what may be wrong with a page of the file.
var pageFaults = map[string]string{
	"out-of-bounds": "is out of bounds", "past-end": "runs past the end", "overfull": "holds more than it can",
	"unknown": "is of no known kind", "no-freelist": "should list the free pages",
	"freelist-too-long":     "has a list of free pages that is too long",
	"freelist-out-of-order": "lists free pages out of order",
	"freelist-cut-short":    "has a list of free pages that breaks off",
	"unused":                "is neither used nor free", "used-twice": "is used twice", "too-deep": "is too deep",
	"points-out-of-bounds": "points out of bounds", "bucket-out-of-place": "holds a bucket out of place",
	"bucket-cut-off": "has a bucket that is cut off", "keys-out-of-order": "has keys out of order",
	"empty-branch": "is a branch without pages", "keys-outside-branch": "has keys outside its branch",
	"spans-too-many": "claims more pages than it needs", "miscounted": "holds another number of records than it says",
}

// Page says what is wrong with a page of a book's file.
func Page(r bookfile.PageFault) string {
	switch r.Is {
	case "record":
		return text.Safe(r.Message)
	case "unreadable":
		return "can't be read (" + text.Safe(r.Message) + ")"
	case "another":
		return fmt.Sprintf("page %d says it is page %d", r.Page, r.Other)
	case "element-unknown":
		return fmt.Sprintf("page %d, element %d is of no known kind", r.Page, r.Other)
	case "element-outside":
		return fmt.Sprintf("page %d, element %d is outside its page", r.Page, r.Other)
	}
	return fmt.Sprintf("page %d %s", r.Page, pageFaults[r.Is])
}

// fileForm is a kind of trouble, and what is there in the place of a book.
type fileForm struct {
	kind bookfile.Kind
	is   reason.Thing
}

// fileForms are the sentences that need no more than the file's name.
var fileForms = map[fileForm]string{
	{bookfile.ErrNoBook, ""}:          "no book at %s",
	{bookfile.ErrNotABook, ""}:        "%s is not a rindkeep book",
	{bookfile.ErrNotABook, "folder"}:  "%s is a folder, not a rindkeep book",
	{bookfile.ErrNotABook, "empty"}:   "%s is empty: it is no book",
	{bookfile.ErrNotABook, "another"}: "%s is another book than the load began with",
	{bookfile.ErrFull, ""}:            "no room left on the disk for %s",
	{bookfile.ErrExists, "file"}:      "there is a file at %s already",
	{bookfile.ErrExists, "book"}:      "there is a book at %s already",
	{bookfile.ErrExists, "records"}:   "%s holds records already; an export goes into a new book or an empty one",
	{bookfile.ErrStale, ""}:           "the index of %s was made by another version of rindkeep",
	{bookfile.ErrNoFolder, ""}:        "there is no folder %s",
	{bookfile.ErrSameFile, ""}:        "%s is the book itself",
	{bookfile.ErrMemory, ""}:          "there isn't enough memory to use %s",
	{bookfile.ErrDisk, ""}:            "the disk couldn't read or write a part of %s",
	{bookfile.ErrInterrupted, ""}:     "the system interrupted the work on %s; nothing was changed",
	{bookfile.ErrNoLocks, ""}:         "the file system can't lock %s against other programs",
	{bookfile.ErrOpenFiles, ""}:       "too many files are open on this machine to open %s",
	{bookfile.ErrUnsynced, ""}:        "written to %s, but the disk didn't confirm it",
}

// File says what is wrong with a file, where that takes no more than its name.
func File(e *bookfile.Error) (s string, ok bool) {
	form, ok := fileForms[fileForm{e.Kind, e.Is}]
	if !ok {
		return "", false
	}
	return fmt.Sprintf(form, text.Safe(e.Path)), true
}
