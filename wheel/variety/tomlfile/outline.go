package tomlfile

import (
	"bytes"
	"cmp"

	"github.com/pelletier/go-toml/v2/unstable"

	"rindkeep/cave/reason"
)

// file is a file that is decoded, and the first faults found in it.
type file struct {
	name    string
	unknown *Fault // the first key that it may not have
	fault   *Fault
}

// Table is a table, key or item of a list of a file, with its line.
type Table struct {
	file *file
	key  string
	line int
	keys map[string]*Table
	list []*Table
}

// outline finds the lines of a file that is known to be TOML.
func (f *file) outline(data []byte) *Table {
	var p unstable.Parser
	p.Reset(data)
	top := &Table{file: f}
	table, offset, line := top, 0, 1
	down := func(t *Table, keys unstable.Iterator) *Table {
		for keys.Next() {
			next := max(offset, int(keys.Node().Raw.Offset)) // keys come in order
			line += bytes.Count(data[offset:next], []byte{'\n'})
			offset = next
			t = t.add(string(keys.Node().Data), line)
		}
		return t
	}
	var value func(t *Table, v *unstable.Node)
	value = func(t *Table, v *unstable.Node) {
		for it := v.Children(); v.Kind == unstable.InlineTable && it.Next(); {
			value(down(t, it.Node().Key()), it.Node().Value())
		}
		for it := v.Children(); v.Kind == unstable.Array && it.Next(); {
			value(t.append(line), it.Node())
		}
	}
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.KeyValue:
			value(down(table, e.Key()), e.Value())
		case unstable.Table:
			table = down(top, e.Key())
		case unstable.ArrayTable:
			table = down(top, e.Key())
			table = table.append(line)
		}
	}
	return top
}

// add is the entry of a key in a table, or in the last of a list of tables.
func (t *Table) add(key string, line int) *Table {
	if len(t.list) > 0 {
		t = t.list[len(t.list)-1]
	}
	if t.keys == nil {
		t.keys = map[string]*Table{}
	}
	if t.keys[key] == nil {
		t.keys[key] = &Table{file: t.file, key: key, line: line}
	}
	return t.keys[key]
}

func (t *Table) append(line int) *Table {
	t.list = append(t.list, &Table{file: t.file, key: t.key, line: line})
	return t.list[len(t.list)-1]
}

// In is the table at a key, with the line of the one around it if there is none.
func (t *Table) In(key string) *Table {
	return cmp.Or(t.keys[key], &Table{file: t.file, key: key, line: t.line})
}

// Item is one of a list of tables.
func (t *Table) Item(i int) *Table {
	if i < len(t.list) {
		return t.list[i]
	}
	return t
}

// Has is true where the key is written.
func (t *Table) Has(key string) bool { return t.keys[key] != nil }

// Line is the line of a key, or of the table where the key isn't written or "".
func (t *Table) Line(key string) int { return t.In(key).line }

// Fail records what is wrong at a key, unless something was found before.
func (t *Table) Fail(key string, why reason.Reason) { t.In(key).fail(why) }

func (t *Table) fail(why reason.Reason) {
	t.file.fault = cmp.Or(t.file.fault, &Fault{t.file.name, t.line, t.key, why})
}

// Err gives the first key that the file may not have, or else what Fail recorded first.
func (t *Table) Err() error {
	if fault := cmp.Or(t.file.unknown, t.file.fault); fault != nil {
		return *fault
	}
	return nil
}
