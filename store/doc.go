// Package store keeps the book: one file that holds every make, wheel, room,
// plan and entry, and the indexes that follow from them.
//
// Facts are written once and never changed: makes, wheels as they came, and
// entries keyed by wheel and time. Everything else (where a wheel is, what
// it is called, what it is due, how many there are) is derived from them in
// the same transaction, can be rebuilt, and is proved against them by Check.
//
// Every fact is linked into a chain of hashes as it is written, so that Check can
// name what was altered by other means than this package.
//
// Instants are kept in UTC to the millisecond; dates are days in the book's
// own zone. One Update is one synced transaction: the facts and all that
// follows from them, or nothing. Several processes may hold the book in turn;
// a queue beside it keeps the turns fair.
//
// The package knows no command and prints nothing. Whatever it hands out is a
// copy and stays good after the transaction.
package store
