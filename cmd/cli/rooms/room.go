// Package rooms has the commands of rooms and their air.
package rooms

import (
	"strconv"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/store"
)

// Commands are the commands of rooms.
func Commands(c *console.Console) []*cobra.Command {
	return []*cobra.Command{
		console.Group("room", "Rooms, racks and shelves", newCmd(c), listCmd(c), showCmd(c)),
		aheadCmd(c), stockCmd(c),
		console.Group("air", "The rooms' air: log it, load a logger's file, show it, test a hygrometer",
			logCmd(c), importCmd(c), airShowCmd(c), testCmd(c), cancelCmd(c)),
	}
}

func roomNames(s *app.Session, nth int, _ string) []string {
	if nth > 0 {
		return nil
	}
	return console.RoomNames(s)
}

func newCmd(c *console.Console) *cobra.Command {
	var q rooms.Change
	var zone string
	var order int
	cmd := c.Cmd("new NAME", "Record a new room, or change one", `
rindkeep room new fridge --temp 7C --rh 82% --air still --racks F:4x8
rindkeep room new cellar --temp 11C --rh 88% --temp-low 9C --temp-high 13C --racks A:5x10,B:5x10`,
		console.Exactly("NAME"), func(cmd *cobra.Command, args []string) error {
			q.Name = args[0]
			if err := cave.CheckTag("room", q.Name); err != nil {
				return console.At("NAME", err)
			}
			if err := c.CreateBook(store.Settings{Zone: zone}); err != nil {
				return err
			}
			if cmd.Flags().Changed("order") {
				q.Order = &order
			}
			d, err := rooms.Put(c.Ctx, c.App, c.Caller(), q)
			r, done, err := console.Recorded(c, d, err)
			if done {
				return err
			}
			word := "changed room"
			if r.New {
				word = "new room"
			}
			c.Print("%s %s: %s\n", word, r.Room.Name, c.Words.SetPoint(r.Room.Room))
			c.Cautions(r.Cautions)
			return nil
		})
	fl := cmd.Flags()
	console.Maybe(fl, &q.Temp, console.Temp, "temp", "set point, `TEMPERATURE` (default 12C)")
	console.Maybe(fl, &q.RH, console.Percent, "rh", "set humidity, `PERCENT` (default 85%)")
	console.Maybe(fl, &q.TempLow, console.Temp, "temp-low", "lower limit, `TEMPERATURE` (default: 2 °C under)")
	console.Maybe(fl, &q.TempHigh, console.Temp, "temp-high", "upper limit, `TEMPERATURE` (default: 2 °C over)")
	console.Maybe(fl, &q.RHLow, console.Percent, "rh-low", "lower limit, `PERCENT` (default: 7 points under)")
	console.Maybe(fl, &q.RHHigh, console.Percent, "rh-high", "upper limit, `PERCENT` (default: 7 points over)")
	console.Figure(fl, &q.Movement, console.As(air.ParseMovement), "air", "", "air movement: `still|gentle|brisk`")
	console.Figure(fl, &q.Racks, console.As(cave.ParseRacks), "racks", "", "racks as `NAME:SHELVESxWHEELS,..`")
	fl.IntVar(&order, "order", 0, "`RANK` in the walk (default: last)")
	fl.StringVar(&q.Title, "title", "", "longer `NAME`")
	fl.StringVar(&zone, "zone", "", "IANA time `ZONE` of a new book (default: this machine's)")
	fl.SortFlags = false
	return c.CompletesArgs(cmd, roomNames)
}

func listCmd(c *console.Console) *cobra.Command {
	return c.Cmd("list", "The rooms in walking order", `
rindkeep room list`, console.NoArgs, func(*cobra.Command, []string) error {
		l, err := rooms.All(c.Ctx, c.App, c.Caller())
		if done, err := c.Answered(l, err); done {
			return err
		}
		if len(l.Rooms) == 0 {
			c.Print("no rooms yet\n")
			c.Next("add one: rindkeep room new cellar --temp 12C --rh 85%%")
			return nil
		}
		t := text.Table{Columns: []text.Column{{Title: "room"}, {Title: "temp", Right: true},
			{Title: "humidity", Right: true},
			{Title: "air"}, {Title: "wheels", Right: true}, {Title: "room for", Right: true}, {Title: "what", Wrap: true}}}
		for _, r := range l.Rooms {
			space := "-"
			if r.Capacity > 0 {
				space = strconv.Itoa(r.Capacity)
			}
			t.Add(r.Name, c.Words.Temp(r.Room.Temp), c.Words.RH(r.Room.RH), r.Movement, strconv.Itoa(r.Wheels), space, r.Title)
		}
		c.Table(t)
		return nil
	})
}

func showCmd(c *console.Console) *cobra.Command {
	var w waterFlags
	cmd := c.Cmd("show ROOM", "One room: its air, racks, wheels and their water", `
rindkeep room show cellar
rindkeep room show cellar --volume 80 --air-change 0.5`, console.Exactly("ROOM"),
		func(_ *cobra.Command, args []string) error {
			if err := w.asked.Check(); err != nil {
				return err
			}
			r, err := rooms.Show(c.Ctx, c.App, c.Caller(), args[0], w.asked)
			return console.Show(c, r, err, showRoom)
		})
	w.add(cmd)
	return c.CompletesArgs(cmd, roomNames)
}

func showRoom(c *console.Console, r rooms.Shown) {
	head := c.Style("1")(r.Room.Name)
	if r.Room.Title != "" {
		head += "  " + r.Room.Title
	}
	c.Print("%s\n\n", head)
	c.Table(text.Facts(2, c.Words.RoomFacts(r)))
	if len(r.Shelves) > 0 {
		c.Print("\n")
		t := text.Table{Indent: 2, Columns: []text.Column{{Title: "place"}, {Title: "wheels", Right: true}}}
		for _, s := range r.Shelves {
			t.Add(s.Place, strconv.Itoa(s.Wheels))
		}
		c.Table(t)
	}
	c.Print("\n")
	printWater(c, r.Water)
	c.Cautions(r.Cautions)
}

// waterFlags are what it takes to tell what the wheels' water does to a room.
type waterFlags struct{ asked rooms.WaterAsked }

func (w *waterFlags) add(cmd *cobra.Command) {
	f, x := cmd.Flags(), &w.asked.Exchange
	console.NumberVar(f, &x.VolumeM3, "volume", 0, "the room's air, `M3`: what its wheels' water does to the humidity")
	console.NumberVar(f, &x.ChangesPerHour, "air-change", 0.2, "air changes with outside air, `TIMES` an hour")
	console.Figure(f, &x.Outside.Temp, console.Temp, "outside-temp", "10C", "outside air, `TEMPERATURE`")
	console.Figure(f, &x.Outside.RH, console.Percent, "outside-rh", "75%", "outside air's humidity, `PERCENT`")
	f.BoolVar(&w.asked.Without, "no-water", false, "leave out the water of the wheels, which takes a forecast of each")
}

func printWater(c *console.Console, w *rooms.Water) {
	for i, s := range c.Words.Water(w) {
		if i == 0 {
			c.Print("%s\n", s)
		} else {
			c.Indented(s)
		}
	}
	if w != nil && w.Wheels > 0 && w.Volume == nil {
		c.Next("what that does to the humidity: give --volume and --air-change")
	}
}
