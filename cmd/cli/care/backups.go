package care

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

func backupsCmd(c *console.Console) *cobra.Command {
	var folder string
	cmd := c.NowCmd("backups", "The backups that the book makes by itself", `
rindkeep book backups
rindkeep book backups --folder /media/stick      made there from now on
rindkeep book backups --folder beside            beside the book again
rindkeep book backups --folder off               none are made`, console.NoArgs,
		func(cmd *cobra.Command, _ []string) error {
			list := c.App.ListBackups
			if cmd.Flags().Changed("folder") {
				list = func() (app.BackupList, error) { return c.App.PutBackups(folder) }
			}
			x, err := list()
			if done, err := c.Answered(x, err); done {
				return err
			}
			printBackups(c, x)
			return nil
		})
	cmd.Long = cmd.Short + `.

The first entry of a day makes one, once its command has printed its answer, and so
does every compaction and every table that comes in, before it does. It counts only if
its every record was read back and found sound. The newest three are kept, and the
newest of each of the last 7 days, 8 weeks and 12 months that have any, up to 30 times
the book's size in all; the others are removed. Name a folder on another disk: beside the
book they are lost with its disk.`
	cmd.Flags().StringVar(&folder, "folder", "", "make them in `FOLDER` from now on; beside: beside the book; "+
		"off: nowhere")
	return cmd
}

func printBackups(c *console.Console, x app.BackupList) {
	if x.Folder == nil {
		c.Print("no backups are made by themselves\n")
		c.Next("turn them on: rindkeep book backups --folder beside")
		return
	}
	if len(x.Backups) == 0 {
		c.Print("no backups yet in %s\n", console.SafePath(*x.Folder))
		c.Next("the next entry makes one")
		return
	}
	t := text.Table{Columns: []text.Column{{}, {Right: true}, {}}}
	for _, b := range x.Backups {
		t.Add(words.Minute(b.Made), megabytes(b.Bytes), console.SafePath(b.Path))
	}
	c.Table(t)
}

// offerBackups says which backups can be restored.
func offerBackups(c *console.Console) error {
	x, err := c.App.ListBackups()
	if err != nil {
		return err
	}
	if len(x.Backups) == 0 {
		return console.Hint(console.Usagef("which backup? the book has made none by itself"),
			"give the file of one that you made: rindkeep book restore BACKUP")
	}
	if !c.JSON {
		printBackups(c, x)
	}
	return console.Hint(console.Usagef("which backup? nothing was restored"),
		"the newest: rindkeep book restore %s --replace", words.Shell(x.Backups[0].Path))
}
