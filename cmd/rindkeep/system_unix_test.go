//go:build unix

package main

import (
	"os"
	"os/exec"
	"syscall"
)

const (
	canInterrupt = true
	canForbid    = true
)

// ownGroup starts a command in a process group of its own, so that all it
// starts can be killed with it.
func ownGroup(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

// killGroup kills a command and all it started, at once, as kill -9 does.
func killGroup(cmd *exec.Cmd) { _ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }

// asNobody has a command run as a user whom permissions bind.
func asNobody(cmd *exec.Cmd) {
	if os.Geteuid() == 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
}

// peakMiB is the most memory a finished process held.
func peakMiB(p *os.ProcessState) float64 {
	u, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	return maxRSS(u) / (1 << 20)
}
