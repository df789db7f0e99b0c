package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"

	"rindkeep/cmd/workbook"
)

// maxPiped is the largest workbook taken from a pipe, of which a copy is made.
const maxPiped = 1 << 29

// openedSheet is a sheet as a table for intake, which reads it by its rows.
type openedSheet struct {
	*workbook.Sheet
	done func()
}

// Read is not what a sheet is read by.
func (o openedSheet) Read([]byte) (int, error) { return 0, errors.New("a sheet is read by its rows") }

// Close ends the reading of the sheet and its file.
func (o openedSheet) Close() error {
	err := o.Sheet.Close()
	o.done()
	return err
}

// openTable opens a table to be read by intake: text, or a sheet of a workbook,
// which it knows by how the file begins; sheet names it, the first where it is
// "". Shown is what the file is called to the person who named it.
func (a *app) openTable(path, shown, sheet string) (io.ReadCloser, error) {
	f, err := a.openFile(path)
	if err != nil {
		return nil, err
	}
	r := bufio.NewReaderSize(f, 64<<10)
	// A failed read comes again when the table is read.
	if head, _ := r.Peek(4); !workbook.Is(head) {
		if sheet != "" {
			f.Close()
			return nil, at("--sheet", usagef("--sheet goes with an XLSX workbook, and %s is none", safeWord(shown)))
		}
		return struct {
			io.Reader
			io.Closer
		}{r, f}, nil
	}
	file, done, err := a.onDisk(f, r)
	if err != nil {
		return nil, at(shown, fmt.Errorf("%s: %w", safeWord(shown), err))
	}
	s, err := a.sheetOf(file, sheet)
	if err != nil {
		done()
		return nil, at(shown, fmt.Errorf("%s: %w", safeWord(shown), err))
	}
	return openedSheet{s, done}, nil
}

func (a *app) sheetOf(f *os.File, sheet string) (*workbook.Sheet, error) {
	st, err := f.Stat()
	if err != nil {
		return nil, err
	}
	b, err := workbook.Open(a.ctx, f, st.Size())
	if err != nil {
		return nil, err
	}
	return b.Sheet(sheet)
}

// onDisk is a file to be read anywhere in it: the one opened, or a copy of what
// a pipe brings.
func (a *app) onDisk(f io.ReadCloser, r io.Reader) (*os.File, func(), error) {
	if file, ok := f.(*os.File); ok {
		if st, err := file.Stat(); err == nil && st.Mode().IsRegular() {
			return file, func() { file.Close() }, nil
		}
	}
	defer f.Close()
	tmp, err := os.CreateTemp("", "rindkeep-*.xlsx")
	if err != nil {
		return nil, nil, fmt.Errorf("no room for a temporary copy: %s", plainOS(err))
	}
	done := func() {
		tmp.Close()
		os.Remove(tmp.Name())
	}
	n, err := io.Copy(tmp, io.LimitReader(r, maxPiped+1))
	if err == nil && n > maxPiped {
		err = fmt.Errorf("it is larger than %d MB", maxPiped>>20)
	}
	if err != nil {
		done()
		if cerr := a.ctx.Err(); cerr != nil {
			return nil, nil, cerr
		}
		return nil, nil, fmt.Errorf("cannot read it: %s", plainOS(err))
	}
	return tmp, done, nil
}
