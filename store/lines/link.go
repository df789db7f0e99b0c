package lines

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"

	"rindkeep/cave/reason"
	"rindkeep/store/chain"
	"rindkeep/store/pack"
)

// Link is a link as it is kept: its hash apart, the rest in base64.
type Link struct {
	Number uint64 `json:"number"`
	Hash   string `json:"hash"`
	Link   []byte `json:"link"`
}

// LinkOf is the line of a record of the chain.
func LinkOf(k, v []byte) (any, error) {
	if _, err := chain.Decode(v); err != nil || len(k) != 8 {
		return nil, pack.ErrForm
	}
	n := len(v) - sha256.Size
	return Link{binary.BigEndian.Uint64(k), hex.EncodeToString(v[n:]), v[:n]}, nil
}

// Record is the record of a line as it was; whether it fits the facts is another question.
func (x Link) Record() ([]byte, error) {
	if x.Number == 0 {
		return nil, reason.Err(chain.LinkUnnumbered)
	}
	sum, err := hex.DecodeString(x.Hash)
	if err != nil || len(sum) != sha256.Size {
		return nil, reason.Err(Fault{Is: "no-hash"})
	}
	v := append(x.Link, sum...)
	if _, err := chain.Decode(v); err != nil {
		return nil, reason.Err(chain.LinkUndecodable)
	}
	return v, nil
}
