package store

import (
	"encoding/json"
	"time"

	"github.com/google/uuid"
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
func (t *WriteTx) SetLastCommand(l LastCommand) error {
	if !t.changed {
		return nil
	}
	b, err := json.Marshal(l)
	if err != nil {
		return err
	}
	t.put(bBook, lastKey, b)
	return nil
}

// LastCommand gives the last command that wrote; ok is false where none was
// noted.
func (t *ReadTx) LastCommand() (l LastCommand, ok bool, err error) {
	v := t.get(bBook, lastKey)
	if v == nil {
		return l, false, nil
	}
	if err := json.Unmarshal(v, &l); err != nil {
		return l, false, t.damaged(err, "last-command", nil)
	}
	return l, true, nil
}
