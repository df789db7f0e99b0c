package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"os"
	"time"

	bolt "go.etcd.io/bbolt"
)

// alterBook does what no rindkeep would: alterbook FILE TEXT OTHER writes OTHER
// for TEXT in the entries that hold it and makes their seals again; with - for
// OTHER it removes them; with + it puts each in once more, an hour later; with ~
// it flips one bit and leaves the seals as they are, as a disk may.
func alterBook() {
	if err := alter(os.Args[1], []byte(os.Args[2]), []byte(os.Args[3])); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func alter(path string, text, other []byte) error {
	db, err := bolt.Open(path, 0o600, &bolt.Options{Timeout: time.Second})
	if err != nil {
		return err
	}
	defer db.Close()
	castagnoli := crc32.MakeTable(crc32.Castagnoli)
	return db.Update(func(tx *bolt.Tx) error {
		b := tx.Bucket([]byte("entries"))
		hit := map[string][]byte{}
		if err := b.ForEach(func(k, v []byte) error {
			if at := bytes.Index(v, text); at >= 0 && string(other) == "~" {
				bad := bytes.Clone(v)
				bad[at] ^= 1
				hit[string(k)] = bad
			} else if at >= 0 {
				hit[string(k)] = bytes.Clone(v[:len(v)-2])
			}
			return nil
		}); err != nil {
			return err
		}
		if len(hit) == 0 {
			return fmt.Errorf("no entry holds %q", text)
		}
		for key, body := range hit {
			k := []byte(key)
			switch string(other) {
			case "~":
				if err := b.Put(k, body); err != nil {
					return err
				}
				continue
			case "-":
				if err := b.Delete(k); err != nil {
					return err
				}
				continue
			case "+":
				binary.BigEndian.PutUint64(k[16:], binary.BigEndian.Uint64(k[16:])+3_600_000)
				k[39] ^= 1
			default:
				if len(other) != len(text) {
					return fmt.Errorf("%q is not as long as %q", other, text)
				}
				body = bytes.ReplaceAll(body, text, other)
			}
			c := crc32.Update(crc32.Checksum(k, castagnoli), castagnoli, body)
			if err := b.Put(k, binary.BigEndian.AppendUint16(body, uint16(c^c>>16))); err != nil {
				return err
			}
		}
		return nil
	})
}
