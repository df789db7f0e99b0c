// Command rindkeep keeps the book of a cheese-ripening cave.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
	_ "time/tzdata" // where the machine knows no zones: a bare container, Windows

	"rindkeep/cmd/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Run(ctx, os.Args[1:], cli.System(time.Now))
	stop()
	os.Exit(code)
}
