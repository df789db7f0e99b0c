package cli

import (
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	uc "rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/store"
)

// Version is the program's version.
const Version = "0.1.0"

func versionCmd(c *console.Console) *cobra.Command {
	return c.NowCmd("version", "The program's version", "\nrindkeep version", console.NoArgs,
		func(*cobra.Command, []string) error {
			commit := ""
			if bi, ok := debug.ReadBuildInfo(); ok {
				for _, s := range bi.Settings {
					if s.Key == "vcs.revision" {
						commit = s.Value
					}
				}
			}
			if c.JSON {
				return c.Document(struct {
					Schema  string `json:"schema"`
					Version string `json:"version"`
					Commit  string `json:"commit"`
					Format  int    `json:"book_format"`
					Go      string `json:"go"`
				}{uc.Schema("version"), Version, commit, store.Format, runtime.Version()})
			}
			c.Print("rindkeep %s, book format %d, %s %s/%s\n",
				Version, store.Format, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return nil
		})
}
