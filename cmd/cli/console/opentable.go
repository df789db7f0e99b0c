package console

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

// OpenTable opens a table to be read by intake: text, or a sheet of a workbook, which it knows by how the file
// begins; sheet names it, the first where it is "". Shown is what the file is called to the person who named it.
func (c *Console) OpenTable(path, shown, sheet string) (io.ReadCloser, error) {
	f, err := c.OpenFile(path)
	if err != nil {
		return nil, err
	}
	r := bufio.NewReaderSize(f, 64<<10)
	// A failed read comes again when the table is read.
	if head, _ := r.Peek(4); !workbook.Is(head) {
		if sheet != "" {
			f.Close()
			return nil, At("--sheet", Usagef("--sheet goes with an XLSX workbook, and %s isn't one", SafeWord(shown)))
		}
		return struct {
			io.Reader
			io.Closer
		}{r, f}, nil
	}
	file, done, err := c.onDisk(f, r)
	if err != nil {
		return nil, At(shown, fmt.Errorf("%s: %w", SafeWord(shown), err))
	}
	s, err := c.sheetOf(file, sheet)
	if err != nil {
		done()
		return nil, At(shown, fmt.Errorf("%s: %w", SafeWord(shown), err))
	}
	return openedSheet{s, done}, nil
}

func (c *Console) sheetOf(f *os.File, sheet string) (*workbook.Sheet, error) {
	st, err := f.Stat()
	if err != nil {
		return nil, err
	}
	b, err := workbook.Open(c.Ctx, f, st.Size())
	if err != nil {
		return nil, err
	}
	return b.Sheet(sheet)
}

// onDisk is a file to be read anywhere in it: the one opened, or a copy of what a pipe brings.
func (c *Console) onDisk(f io.ReadCloser, r io.Reader) (*os.File, func(), error) {
	if file, ok := f.(*os.File); ok {
		if st, err := file.Stat(); err == nil && st.Mode().IsRegular() {
			return file, func() { file.Close() }, nil
		}
	}
	defer f.Close()
	tmp, err := os.CreateTemp("", "rindkeep-*.xlsx")
	if err != nil {
		return nil, nil, fmt.Errorf("no room for a temporary copy: %s", PlainOS(err))
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
		if cerr := c.Ctx.Err(); cerr != nil {
			return nil, nil, cerr
		}
		return nil, nil, fmt.Errorf("cannot read it: %s", PlainOS(err))
	}
	return tmp, done, nil
}
