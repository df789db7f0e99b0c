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
	var temp, rh, tempLow, tempHigh, rhLow, rhHigh, movement, racks, zone string
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
			f := c.Figures()
			q.Temp = console.Optional(f.Temp, "--temp", temp)
			q.RH = console.Optional(f.Percent, "--rh", rh)
			q.TempLow = console.Optional(f.Temp, "--temp-low", tempLow)
			q.TempHigh = console.Optional(f.Temp, "--temp-high", tempHigh)
			q.RHLow = console.Optional(f.Percent, "--rh-low", rhLow)
			q.RHHigh = console.Optional(f.Percent, "--rh-high", rhHigh)
			if movement != "" {
				q.Movement = console.Read(f, "--air", movement, air.ParseMovement)
			}
			if racks != "" {
				q.Racks = console.Read(f, "--racks", racks, cave.ParseRacks)
			}
			if cmd.Flags().Changed("order") {
				q.Order = &order
			}
			if f.Err != nil {
				return f.Err
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
	fl.StringVar(&temp, "temp", "", "set point, `TEMPERATURE` (default 12C)")
	fl.StringVar(&rh, "rh", "", "set humidity, `PERCENT` (default 85%)")
	fl.StringVar(&tempLow, "temp-low", "", "lower limit, `TEMPERATURE` (default: 2 °C under)")
	fl.StringVar(&tempHigh, "temp-high", "", "upper limit, `TEMPERATURE` (default: 2 °C over)")
	fl.StringVar(&rhLow, "rh-low", "", "lower limit, `PERCENT` (default: 7 points under)")
	fl.StringVar(&rhHigh, "rh-high", "", "upper limit, `PERCENT` (default: 7 points over)")
	fl.StringVar(&movement, "air", "", "air movement: `still|gentle|brisk`")
	fl.StringVar(&racks, "racks", "", "racks as `NAME:SHELVESxWHEELS,..`")
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
		c.Lines(t.Lines(c.Env.Columns()))
		return nil
	})
}

func showCmd(c *console.Console) *cobra.Command {
	var w waterFlags
	cmd := c.Cmd("show ROOM", "One room: its air, racks, wheels and their water", `
rindkeep room show cellar
rindkeep room show cellar --volume 80 --air-change 0.5`, console.Exactly("ROOM"),
		func(_ *cobra.Command, args []string) error {
			asked, err := w.read(c)
			if err != nil {
				return err
			}
			r, err := rooms.Show(c.Ctx, c.App, c.Caller(), args[0], asked)
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
		c.Lines(t.Lines(c.Env.Columns()))
	}
	c.Print("\n")
	printWater(c, r.Water)
	c.Cautions(r.Cautions)
}

// waterFlags are what it takes to tell what the wheels' water does to a room.
type waterFlags struct {
	asked                  rooms.WaterAsked
	outsideTemp, outsideRH string
}

func (w *waterFlags) add(cmd *cobra.Command) {
	f, x := cmd.Flags(), &w.asked.Exchange
	console.NumberVar(f, &x.VolumeM3, "volume", 0, "the room's air, `M3`: what its wheels' water does to the humidity")
	console.NumberVar(f, &x.ChangesPerHour, "air-change", 0.2, "air changes with outside air, `TIMES` an hour")
	f.StringVar(&w.outsideTemp, "outside-temp", "10C", "outside air, `TEMPERATURE`")
	f.StringVar(&w.outsideRH, "outside-rh", "75%", "outside air's humidity, `PERCENT`")
	f.BoolVar(&w.asked.Without, "no-water", false, "leave out the water of the wheels, which takes a forecast of each")
}

func (w *waterFlags) read(c *console.Console) (rooms.WaterAsked, error) {
	f := c.Figures()
	w.asked.Exchange.Outside.Temp = f.Temp("--outside-temp", w.outsideTemp)
	w.asked.Exchange.Outside.RH = f.Percent("--outside-rh", w.outsideRH)
	if f.Err != nil {
		return w.asked, f.Err
	}
	return w.asked, w.asked.Check()
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
