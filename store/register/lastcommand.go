package register

import (
	"bytes"
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/layout"
)

// LastCommand is the last command that wrote to the book: what it was, whose,
// and the identity its entries begin with.
type LastCommand struct {
	Command string    `json:"command"`
	By      string    `json:"by,omitempty"`
	At      time.Time `json:"at"`
	Batch   uuid.UUID `json:"batch"`
}

var lastKey = []byte("last-command")

// SetLastCommand notes the command this transaction belongs to. By itself it
// is no change: a transaction that writes nothing else leaves the book alone.
func (t *Writer) SetLastCommand(l LastCommand) error {
	if !t.tab.Changed {
		return nil
	}
	b, err := json.Marshal(l)
	if err != nil {
		return err
	}
	t.tab.Put(layout.Book, lastKey, b)
	return nil
}

// LastCommand gives the last command that wrote; ok is false where none was
// noted.
func (t *Reader) LastCommand() (l LastCommand, ok bool, err error) {
	v := t.tab.Get(layout.Book, lastKey)
	if v == nil {
		return l, false, nil
	}
	if err := json.Unmarshal(v, &l); err != nil {
		return l, false, t.tab.Damaged(err, "last-command", nil)
	}
	return l, true, nil
}

// Unfinished is an act in several transactions that stopped before the last of them.
type Unfinished struct {
	LastCommand
	Left int `json:"left"` // wheels it has yet to come to
}

var leftPrefix = []byte("left-")

func leftKey(batch uuid.UUID) []byte { return append(bytes.Clone(leftPrefix), batch[:]...) }

// SetLeft notes how many wheels an act in several transactions has yet to come to; 0: it is
// done.
func (t *Writer) SetLeft(l LastCommand, wheels int) error {
	k := leftKey(l.Batch)
	if wheels == 0 {
		if t.tab.Get(layout.Book, k) != nil {
			t.tab.Put(layout.Book, k, nil)
		}
		return nil
	}
	if !t.tab.Changed {
		return nil
	}
	b, err := json.Marshal(Unfinished{l, wheels})
	t.tab.Put(layout.Book, k, b)
	return err
}

// Left is how many wheels an act has yet to come to that stopped half-way; 0: it is done, or
// took one transaction.
func (t *Reader) Left(batch uuid.UUID) (int, error) {
	u, err := t.unfinished(t.tab.Get(layout.Book, leftKey(batch)))
	return u.Left, err
}

// EachUnfinished goes through the acts that were noted as stopped half-way.
func (t *Reader) EachUnfinished(fn func(Unfinished) error) error {
	for _, v := range t.tab.In(layout.Book, leftPrefix) {
		u, err := t.unfinished(v)
		if err == nil {
			err = fn(u)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (t *Reader) unfinished(v []byte) (u Unfinished, err error) {
	if v == nil {
		return u, nil
	}
	if err := json.Unmarshal(v, &u); err != nil {
		return u, t.tab.Damaged(err, "last-command", nil)
	}
	return u, nil
}
