package pages

import (
	"context"
	"strings"
	"sync"

	"rindkeep/cmd/app/sites"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/page"
)

// exchange has the page exchange with the other sites in the background, if there are any, and
// say how that stands where it tells of the last backup.
func exchange(c *console.Console, o *page.Options) (stop func(), err error) {
	loops, err := sites.Loops(c.Ctx, o.App, func(x sites.Exchanged) {
		for _, t := range x.Trouble {
			o.Log.Warn().Msg(c.Words.Sentence(t))
		}
	})
	if err != nil || len(loops) == 0 {
		return func() {}, err
	}
	ctx, cancel := context.WithCancel(c.Ctx)
	var running sync.WaitGroup
	for _, l := range loops {
		running.Go(func() { l.Run(ctx) })
	}
	backup := o.Backup
	o.Backup = func() string {
		var all []string
		if backup != nil {
			all = append(all, backup())
		}
		for _, l := range loops {
			all = append(all, c.Words.Exchange(l.Place, l.State(), c.Env.Now()))
		}
		return strings.Join(all, ". ")
	}
	return func() {
		cancel()
		running.Wait()
	}, nil
}
