package cli

import (
	"runtime"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"

	uc "rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/store"
)

// Version is the program's version; a release sets it at the link.
var Version = "0.1.0"

// stamp is the commit that Go stamped the program with, and its time (RFC 3339); "" where it did not, as with go run
// unless it has -buildvcs=true.
func stamp() (commit, at string) {
	if bi, ok := debug.ReadBuildInfo(); ok {
		for _, s := range bi.Settings {
			switch s.Key {
			case "vcs.revision":
				commit = s.Value
			case "vcs.time":
				at = s.Value
			}
		}
	}
	return commit, at
}

func versionCmd(c *console.Console) *cobra.Command {
	return c.NowCmd("version", "The program's version", "\nrindkeep version", console.NoArgs,
		func(*cobra.Command, []string) error {
			of, at := stamp()
			if c.JSON {
				return c.Document(struct {
					Schema  string `json:"schema"`
					Version string `json:"version"`
					Commit  string `json:"commit"`
					Date    string `json:"date"`
					Format  int    `json:"book_format"`
					Go      string `json:"go"`
				}{uc.Schema("version"), Version, of, at, store.Format, runtime.Version()})
			}
			c.Print("rindkeep %s, book format %d, %s %s/%s\n",
				Version, store.Format, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			if t, err := time.Parse(time.RFC3339, at); err == nil && of != "" {
				c.Print("commit %.12s of %s\n", of, t.UTC().Format(time.DateOnly))
			} else {
				c.Print("commit unknown: built outside its repository, or by go run without -buildvcs=true\n")
			}
			return nil
		})
}
