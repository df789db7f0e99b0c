package console

import (
	"errors"
	"io"
	"testing"
)

func TestASheetIsReadByItsRowsAlone(t *testing.T) {
	if n, err := (openedSheet{}).Read(make([]byte, 9)); n != 0 || err == nil || errors.Is(err, io.EOF) {
		t.Errorf("%d bytes, %v", n, err)
	}
}
