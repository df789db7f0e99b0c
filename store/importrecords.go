package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"rindkeep/cave"
	"rindkeep/wheel"
)

func (l *loader) room(line []byte) error {
	var r cave.Room
	if err := strictly(line, &r); err != nil {
		return err
	}
	if l.t.get(bRooms, []byte(r.Name)) != nil {
		return fmt.Errorf("room %s is in the file already", short(r.Name))
	}
	return l.t.PutRoom(r)
}

func (l *loader) customer(line []byte) error {
	var c Customer
	if err := strictly(line, &c); err != nil {
		return err
	}
	if l.t.get(bCustomers, fold(c.Name)) != nil {
		return fmt.Errorf("customer %s is in the file already", short(c.Name))
	}
	return l.t.PutCustomer(c)
}

func (l *loader) plan(line []byte) error {
	return l.toml(line, bPlans, func(file string, text []byte) (string, error) {
		p, err := l.t.PutPlan(file, text)
		return p.Name, err
	})
}

func (l *loader) variety(line []byte) error {
	return l.toml(line, bVarieties, func(file string, text []byte) (string, error) {
		v, err := l.t.PutVariety(file, text)
		return v.Name, err
	})
}

func (l *loader) toml(line []byte, bucket string, put func(file string, text []byte) (string, error)) error {
	var x tomlText
	if err := strictly(line, &x); err != nil {
		return err
	}
	if l.t.get(bucket, []byte(x.Name)) != nil {
		return fmt.Errorf("%s is in the file already", short(x.Name))
	}
	name, err := put(short(x.Name), []byte(x.TOML))
	if err == nil && name != x.Name {
		err = fmt.Errorf("its text is named %s, not %s", short(name), short(x.Name))
	}
	return err
}

func (l *loader) make(line []byte) error {
	var m wheel.Make
	if err := strictly(line, &m); err != nil {
		return err
	}
	if l.t.get(bMakes, m.ID[:]) != nil {
		return fmt.Errorf("make %s is in the file already", m.ID)
	}
	return l.t.PutMake(m)
}

func (l *loader) wheel(line []byte) error {
	var w wheel.Wheel
	if err := strictly(line, &w); err != nil {
		return err
	}
	w.Since, w.Written = milli(w.Since), milli(w.Written)
	m, err := l.t.checkWheel(w)
	if err != nil {
		return err
	}
	if l.t.get(bWheels, w.ID[:]) != nil {
		return fmt.Errorf("wheel %s is in the file already", w.ID)
	}
	rec, err := encodeJSON(w)
	if err != nil {
		return err
	}
	c, err := l.t.count()
	if err != nil {
		return err
	}
	c.Wheels++
	l.t.put(bWheels, w.ID[:], rec)
	l.t.put(bMakeWheels, makeWheelKey(m.ID, w.Number, w.ID), plain)
	return nil
}

func (l *loader) entry(line []byte) error {
	e, err := entryFrom(line)
	if err != nil {
		return err
	}
	if err := e.Check(); err != nil {
		return err
	}
	mk, isWheel, err := l.t.about(e.Subject)
	if err != nil {
		return err
	}
	s := subject{make: mk, made: mk.Date.Start(l.t.book.zone)}
	if err := s.checkTime(&e, maxTime, l.t.book.zone); err != nil {
		return err
	}
	if err := l.t.checkContent(&e, isWheel); err != nil {
		return err
	}
	k := entryKey(e)
	if bytes.Compare(k, l.last) <= 0 { // an export's entries are in the order of their keys
		if err := l.t.flushBucket(bEntries); err != nil {
			return err
		}
		if l.t.get(bEntries, k) != nil {
			return fmt.Errorf("entry %s is in the file already", e.ID)
		}
	}
	c, err := l.t.count()
	if err != nil {
		return err
	}
	c.Entries++
	c.Newest = max(c.Newest, e.At.UnixMilli())
	l.t.changed = true
	l.t.newEntries = append(l.t.newEntries, keyValue{k, sealed(k, entryBody(&e))})
	l.last = k
	return nil
}

func (l *loader) air(line []byte) error {
	var r airReading
	if err := strictly(line, &r); err != nil {
		return err
	}
	if l.t.get(bAir, airKey(r.Room, r.At)) != nil {
		return fmt.Errorf("the reading of %s at %s is in the file already", short(r.Room), r.At.UTC().Format(time.RFC3339))
	}
	_, err := l.t.PutAir(r.Room, []cave.Reading{{At: r.At, Temp: r.Temp, RH: r.RH}})
	return err
}

// link takes a link of the chain as it is; chain proves it.
func (l *loader) link(line []byte) error {
	var x linkText
	if err := strictly(line, &x); err != nil {
		return err
	}
	if x.Number == 0 || l.t.get(bChain, linkKey(x.Number)) != nil {
		return fmt.Errorf("link %d is in the file already, or is none", x.Number)
	}
	sum, err := hex.DecodeString(x.Hash)
	if err != nil || len(sum) != sha256.Size {
		return fmt.Errorf("the hash of link %d is no hash", x.Number)
	}
	v := append(x.Link, sum...)
	if _, err := decodeLink(v); err != nil {
		return fmt.Errorf("link %d does not decode", x.Number)
	}
	l.t.put(bChain, linkKey(x.Number), v)
	return nil
}
