//go:build !unix

package store

import "syscall"

func asNobody() *syscall.SysProcAttr { return nil }
