package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
)

// Output remembers a failed write.
type Output struct {
	w   io.Writer
	err error
}

// Write implements io.Writer.
func (o *Output) Write(b []byte) (int, error) {
	n, err := o.w.Write(b)
	if err != nil && o.err == nil {
		o.err = err
	}
	return n, err
}

// Err is the first failed write; nil where a reader just went away (less, head).
func (o *Output) Err() error {
	if o.err == nil || errors.Is(o.err, io.ErrClosedPipe) || strings.Contains(o.err.Error(), "broken pipe") {
		return nil
	}
	return o.err
}

// ctxReader reads until its context ends: a person at a terminal may never end what they type. What an interrupted
// read would have brought is lost with the program.
type ctxReader struct {
	ctx context.Context
	r   io.Reader
}

// Read implements io.Reader.
func (p *ctxReader) Read(b []byte) (int, error) {
	read, err := Await(p.ctx, func() ([]byte, error) {
		own := make([]byte, len(b))
		n, err := p.r.Read(own)
		return own[:n], err
	})
	return copy(b, read), err
}

// Await runs fn and waits for it no longer than ctx lasts.
func Await[T any](ctx context.Context, fn func() (T, error)) (v T, err error) {
	type result struct {
		v   T
		err error
	}
	done := make(chan result, 1)
	go func() {
		v, err := fn()
		done <- result{v, err}
	}()
	select {
	case r := <-done:
		return r.v, r.err
	case <-ctx.Done():
		return v, ctx.Err()
	}
}

// OpenFile opens a file named on the command line, or standard input for "-".
func (c *Console) OpenFile(name string) (io.ReadCloser, error) {
	if name == "-" {
		return io.NopCloser(c.Env.In), nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, At(name, fmt.Errorf("cannot read %s: %s", SafeWord(name), PlainOS(err)))
	}
	if st, err := f.Stat(); err == nil && st.IsDir() {
		f.Close()
		return nil, At(name, fmt.Errorf("%s is a folder; name a file in it", SafeWord(name)))
	}
	return f, nil
}
