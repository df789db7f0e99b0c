//go:build !unix

package store

import (
	"errors"
	"syscall"
)

func asNobody() *syscall.SysProcAttr { return nil }

func limitFiles(string, uint64) error { return errors.New("no such limit here") }
