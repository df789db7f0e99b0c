// Command rindkeep keeps the book of a cheese-ripening cave.
package main

import (
	"context"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"syscall"
	"time"
	_ "time/tzdata" // where the machine knows no zones: a bare container, Windows

	"rindkeep/cmd/cli"
)

// Most commands end before what they leave behind is worth collecting: the first collection
// waits for firstGC times the heap that the runtime begins at, 4 MiB; all others come as usual.
const firstGC = 8

func collectLate() {
	if os.Getenv("GOGC") != "" {
		return
	}
	usual := debug.SetGCPercent(100 * firstGC)
	runtime.AddCleanup(new([16]byte), func(int) { debug.SetGCPercent(usual) }, 0)
}

func main() {
	collectLate()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Run(ctx, os.Args[1:], cli.System(time.Now))
	stop()
	os.Exit(code)
}
