//go:build !unix

package main

import (
	"os"
	"os/exec"
	"time"
)

const (
	canInterrupt = false
	canForbid    = false
)

func ownGroup(*exec.Cmd)               {}
func killGroup(cmd *exec.Cmd)          { _ = cmd.Process.Kill() }
func asNobody(*exec.Cmd)               {}
func peakMiB(*os.ProcessState) float64 { return 0 }

func cpuOf(int) time.Duration { return 0 }
