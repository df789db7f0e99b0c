package page

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"unicode/utf8"
)

// deepest is how deep one value may lie in another; nothing sent here needs
// more than two.
const deepest = 4

// object reads one JSON object (RFC 8259) and nothing behind it. A name that
// comes twice, which the RFC leaves to each reader to make sense of, is refused,
// and so is text that is no UTF-8: what was sent is understood one way or not at
// all. Numbers stay as they were written.
func object(body []byte) (map[string]any, error) {
	if len(bytes.TrimSpace(body)) == 0 {
		return nil, badRequestf("", "the body is empty; send one JSON object")
	}
	if !utf8.Valid(body) {
		return nil, badRequestf("", "the body isn't UTF-8")
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	v, err := value(d, "", 0)
	if err != nil {
		var m badRequest
		if errors.As(err, &m) {
			return nil, err
		}
		return nil, badRequestf("", "the body isn't JSON: broken at byte %d", d.InputOffset())
	}
	o, ok := v.(map[string]any)
	if !ok {
		return nil, badRequestf("", "the body isn't a JSON object")
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, badRequestf("", "something comes after the JSON object, at byte %d", d.InputOffset())
	}
	return o, nil
}

func value(d *json.Decoder, where string, depth int) (any, error) {
	t, err := d.Token()
	if err != nil {
		return nil, err
	}
	open, ok := t.(json.Delim)
	if !ok {
		return t, nil
	}
	if depth == deepest {
		return nil, badRequestf(where, "the body is nested too deep")
	}
	if open == '[' {
		list := []any{}
		for d.More() {
			v, err := value(d, where, depth+1)
			if err != nil {
				return nil, err
			}
			list = append(list, v)
		}
		_, err := d.Token()
		return list, err
	}
	o := map[string]any{}
	for d.More() {
		k, err := d.Token()
		if err != nil {
			return nil, err
		}
		name, ok := k.(string)
		if !ok {
			return nil, badRequestf(where, "a name in the JSON isn't text")
		}
		at := name
		if where != "" {
			at = where + "." + name
		}
		if _, twice := o[name]; twice {
			return nil, badRequestf(at, "%s appears twice", short(at))
		}
		if o[name], err = value(d, at, depth+1); err != nil {
			return nil, err
		}
	}
	_, err = d.Token()
	return o, err
}

// short is a word somebody sent, fit to be said back.
func short(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:59]) + "…"
	}
	return s
}
