package console

import (
	"bufio"
	"bytes"
	"encoding/json"
	"iter"
)

// Stream prints a document whose last list, of that name and still empty, is filled row
// by row, so that a long list is never held whole as text. Rows may be changed once
// they're printed.
func (c *Console) Stream(doc any, list string, rows iter.Seq[any]) error {
	c.Words.FillCautions(doc)
	var text, row indenter
	head, err := text.of(doc, "")
	if err != nil {
		return err
	}
	open := []byte("  \"" + list + "\": []")
	at := bytes.LastIndex(head, open)
	w := bufio.NewWriter(c.Env.Out)
	end, sep := at+len(open)-1, "\n    "
	if _, err := w.Write(head[:end]); err != nil {
		return err
	}
	for r := range rows {
		b, err := row.of(r, "    ")
		if err != nil {
			return err
		}
		_, _ = w.WriteString(sep)
		if _, err := w.Write(b); err != nil {
			return err
		}
		sep = ",\n    "
	}
	if sep[0] == ',' {
		_, _ = w.WriteString("\n  ")
	}
	_, _ = w.Write(head[end:])
	_ = w.WriteByte('\n')
	return w.Flush()
}

// indenter encodes one value after another into the same memory.
type indenter struct {
	bytes.Buffer
	enc *json.Encoder
}

func (b *indenter) of(v any, prefix string) ([]byte, error) {
	if b.enc == nil {
		b.enc = json.NewEncoder(b)
		b.enc.SetEscapeHTML(false)
	}
	b.Reset()
	b.enc.SetIndent(prefix, "  ")
	err := b.enc.Encode(v)
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), err
}
