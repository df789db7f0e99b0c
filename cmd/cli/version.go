package cli

import (
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"rindkeep/store"
)

// Version is the program's version.
const Version = "0.1.0"

func (a *app) versionCmd() *cobra.Command {
	return a.nowCmd("version", "The program's version", "\nrindkeep version", none, func(cmd *cobra.Command, _ []string) error {
		commit := ""
		if bi, ok := debug.ReadBuildInfo(); ok {
			for _, s := range bi.Settings {
				if s.Key == "vcs.revision" {
					commit = s.Value
				}
			}
		}
		if a.json {
			return a.document(struct {
				Schema  string `json:"schema"`
				Version string `json:"version"`
				Commit  string `json:"commit"`
				Format  int    `json:"book_format"`
				Go      string `json:"go"`
			}{schema("version"), Version, commit, store.Format, runtime.Version()})
		}
		a.print("rindkeep %s, book format %d, %s %s/%s\n", Version, store.Format, runtime.Version(), runtime.GOOS, runtime.GOARCH)
		return nil
	})
}
