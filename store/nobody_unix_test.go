//go:build unix

package store

import "syscall"

// asNobody runs a child as the user nobody.
func asNobody() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
}
