package store

import (
	"encoding/binary"
	"encoding/json"
	"math"
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

// leftKey is where the wheels are noted that an act has yet to come to.
func leftKey(batch uuid.UUID) []byte { return append([]byte("left-"), batch[:]...) }

// SetLeft notes how many wheels an act in several transactions has yet to come to; 0: it is
// done.
func (t *WriteTx) SetLeft(batch uuid.UUID, wheels int) error {
	k := leftKey(batch)
	switch {
	case wheels > 0 && t.changed:
		t.put(bBook, k, binary.AppendUvarint(nil, uint64(wheels)))
	case wheels == 0 && t.get(bBook, k) != nil:
		t.put(bBook, k, nil)
	}
	return nil
}

// Left is how many wheels an act has yet to come to that stopped half-way; 0: it is done, or
// took one transaction.
func (t *ReadTx) Left(batch uuid.UUID) (int, error) {
	v := t.get(bBook, leftKey(batch))
	if v == nil {
		return 0, nil
	}
	n, size := binary.Uvarint(v)
	if size <= 0 || n > math.MaxInt32 {
		return 0, t.damaged(nil, "last-command", nil)
	}
	return int(n), nil
}
