package cli

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
)

func (a *app) roomCmd() *cobra.Command {
	return a.group("room", "Rooms, racks and shelves", a.roomNewCmd(), a.roomListCmd(), a.roomShowCmd())
}

type roomDoc struct {
	Name     string    `json:"name"`
	Title    string    `json:"title"`
	Order    int       `json:"order"`
	Temp     *float64  `json:"temp_c"`
	RH       *float64  `json:"rh_pct"`
	TempLow  *float64  `json:"temp_low_c"`
	TempHigh *float64  `json:"temp_high_c"`
	RHLow    *float64  `json:"rh_low_pct"`
	RHHigh   *float64  `json:"rh_high_pct"`
	DewPoint *float64  `json:"dew_point_c"`
	Movement string    `json:"movement"`
	Racks    []rackDoc `json:"racks"`
	Capacity int       `json:"capacity"`
	Wheels   int       `json:"wheels"`
}

type rackDoc struct {
	Rack     string `json:"rack"`
	Shelves  int    `json:"shelves"`
	PerShelf int    `json:"per_shelf"`
}

func (s *session) roomDocOf(r cave.Room) (roomDoc, error) {
	counts, err := s.tx.ShelfCounts(cave.Place(r.Name))
	if err != nil {
		return roomDoc{}, err
	}
	n := 0
	for _, c := range counts {
		n += c.Wheels
	}
	d := roomDoc{
		Name: r.Name, Title: r.Title, Order: r.Order, Temp: num(float64(r.Temp)), RH: pctNum(r.RH), TempLow: num(float64(r.TempLow)), TempHigh: num(float64(r.TempHigh)),
		RHLow: pctNum(r.RHLow), RHHigh: pctNum(r.RHHigh), DewPoint: num(float64(air.DewPoint(r.SetPoint()))), Movement: string(r.Movement), Racks: []rackDoc{}, Capacity: r.Capacity(), Wheels: n,
	}
	for _, k := range r.Racks {
		d.Racks = append(d.Racks, rackDoc{k.Name, k.Shelves, k.PerShelf})
	}
	return d, nil
}

func (a *app) roomNewCmd() *cobra.Command {
	var title, temp, rh, tempLow, tempHigh, rhLow, rhHigh, movement, racks, zone string
	var order int
	c := a.cmd("new NAME", "Write down a room, or change one", `
rindkeep room new fridge --temp 7C --rh 82% --air still --racks F:4x8
rindkeep room new cellar --temp 11C --rh 88% --temp-low 9C --temp-high 13C --racks A:5x10,B:5x10`, exactly("NAME"), func(cmd *cobra.Command, args []string) error {
		if err := cave.CheckTag("room", args[0]); err != nil {
			return at("NAME", err)
		}
		if err := a.create(zone); err != nil {
			return err
		}
		return a.update(func(s *session) error {
			r, err := s.tx.Room(args[0])
			known := err == nil
			if err != nil && !isNotFound(err) {
				return err
			}
			if !known {
				if r, err = s.newRoom(args[0]); err != nil {
					return err
				}
			}
			if temp != "" || rh != "" || !known {
				if err := setPoint(&r, temp, rh, known); err != nil {
					return err
				}
			}
			for _, x := range []struct {
				flag, value string
				to          *quantity.Celsius
			}{{"--temp-low", tempLow, &r.TempLow}, {"--temp-high", tempHigh, &r.TempHigh}} {
				t, ok, err := maybe(x.flag, x.value, quantity.ParseTemp)
				if err != nil {
					return err
				}
				if ok {
					*x.to = t
				}
			}
			for _, x := range []struct {
				flag, value string
				to          *quantity.Fraction
			}{{"--rh-low", rhLow, &r.RHLow}, {"--rh-high", rhHigh, &r.RHHigh}} {
				h, ok, err := maybe(x.flag, x.value, quantity.ParsePercent)
				if err != nil {
					return err
				}
				if ok {
					*x.to = h
				}
			}
			if movement != "" {
				if r.Movement, err = need("--air", movement, air.ParseMovement); err != nil {
					return err
				}
			}
			if racks != "" {
				if r.Racks, err = parseRacks(racks); err != nil {
					return at("--racks", usageError{Msg: err.Error()})
				}
			}
			if title != "" {
				r.Title = title
			}
			if cmd.Flags().Changed("order") {
				r.Order = order
			}
			if err := r.Check(); err != nil {
				return err
			}
			if err := s.write.PutRoom(r); err != nil {
				return err
			}
			if s.json {
				d, err := s.roomDocOf(r)
				if err != nil {
					return err
				}
				return s.document(struct {
					Schema string  `json:"schema"`
					Room   roomDoc `json:"room"`
				}{schema("room-new"), d})
			}
			word := "new room"
			if known {
				word = "changed room"
			}
			s.print("%s %s: %s, %.0f %% humidity, air %s\n", word, r.Name, s.units.Temp(r.Temp), r.RH.Percent(), r.Movement)
			if !known {
				s.next("CAUTION: a closed ripening room gathers carbon dioxide and ammonia: air it before you work in it (your local limits apply)")
			}
			return nil
		})
	})
	f := c.Flags()
	f.StringVar(&temp, "temp", "", "set `TEMPERATURE` (default 12C)")
	f.StringVar(&rh, "rh", "", "set humidity, `PERCENT` (default 85%)")
	f.StringVar(&tempLow, "temp-low", "", "lower limit, `TEMPERATURE` (default: 2 C under)")
	f.StringVar(&tempHigh, "temp-high", "", "upper limit, `TEMPERATURE` (default: 2 C over)")
	f.StringVar(&rhLow, "rh-low", "", "lower limit, `PERCENT` (default: 7 points under)")
	f.StringVar(&rhHigh, "rh-high", "", "upper limit, `PERCENT` (default: 7 points over)")
	f.StringVar(&movement, "air", "", "air movement: `still|gentle|brisk`")
	f.StringVar(&racks, "racks", "", "racks as `NAME:SHELVESxWHEELS,..`")
	f.IntVar(&order, "order", 0, "its `RANK` in the walk (default: last)")
	f.StringVar(&title, "title", "", "a longer `NAME`")
	f.StringVar(&zone, "zone", "", "IANA time `ZONE` of a new book (default: this machine's)")
	f.SortFlags = false
	return a.completesArgs(c, func(s *session, _ int, _ string) []string { return s.roomNames() })
}

func (s *session) newRoom(name string) (cave.Room, error) {
	id, err := uuid.NewV7()
	if err != nil {
		return cave.Room{}, err
	}
	rooms, err := s.tx.Rooms()
	if err != nil {
		return cave.Room{}, err
	}
	last := 0
	for _, r := range rooms {
		last = max(last, r.Order)
	}
	return cave.Room{ID: id, Name: name, Order: last + 1, Movement: air.Gentle, Written: s.now, By: s.who}, nil
}

// setPoint puts a room's air and, round it, the usual limits.
func setPoint(r *cave.Room, temp, rh string, known bool) error {
	t, h := r.Temp, r.RH
	if !known {
		t, h = 12, 0.85
	}
	var err error
	if temp != "" {
		if t, err = need("--temp", temp, quantity.ParseTemp); err != nil {
			return err
		}
	}
	if rh != "" {
		if h, err = need("--rh", rh, quantity.ParsePercent); err != nil {
			return err
		}
	}
	r.Around(t, h)
	return nil
}

// parseRacks reads A:5x10,B:4x8: five shelves of ten wheels, four of eight.
func parseRacks(s string) ([]cave.Rack, error) {
	var out []cave.Rack
	for _, w := range strings.Split(s, ",") {
		name, size, ok := strings.Cut(strings.TrimSpace(w), ":")
		k := cave.Rack{Name: name, Shelves: 1}
		if ok {
			shelves, per, deep := strings.Cut(size, "x")
			var err error
			if k.Shelves, err = strconv.Atoi(shelves); err != nil {
				return nil, fmt.Errorf("%q is no rack; write NAME:SHELVESxWHEELS, like A:5x10", safeWord(w))
			}
			if deep {
				if k.PerShelf, err = strconv.Atoi(per); err != nil {
					return nil, fmt.Errorf("%q is no rack; write NAME:SHELVESxWHEELS, like A:5x10", safeWord(w))
				}
			}
		}
		out = append(out, k)
	}
	return out, nil
}

func (a *app) roomListCmd() *cobra.Command {
	return a.cmd("list", "The rooms in walking order", `
rindkeep room list`, none, func(cmd *cobra.Command, _ []string) error {
		return a.view(func(s *session) error {
			rooms, err := s.tx.Rooms()
			if err != nil {
				return err
			}
			docs := []roomDoc{}
			t := text.Table{Columns: []text.Column{{Title: "room"}, {Title: "temp", Right: true}, {Title: "humidity", Right: true}, {Title: "air"}, {Title: "wheels", Right: true}, {Title: "room for", Right: true}, {Title: "what", Wrap: true}}}
			for _, r := range rooms {
				d, err := s.roomDocOf(r)
				if err != nil {
					return err
				}
				docs = append(docs, d)
				space := "-"
				if d.Capacity > 0 {
					space = fmt.Sprint(d.Capacity)
				}
				t.Add(r.Name, s.units.Temp(r.Temp), fmt.Sprintf("%.0f %%", r.RH.Percent()), string(r.Movement), fmt.Sprint(d.Wheels), space, r.Title)
			}
			if s.json {
				return s.document(struct {
					Schema string    `json:"schema"`
					Rooms  []roomDoc `json:"rooms"`
				}{schema("room-list"), docs})
			}
			if len(docs) == 0 {
				s.print("no rooms yet\n")
				s.next("write one down: rindkeep room new cellar --temp 12C --rh 85%%")
				return nil
			}
			s.lines(t.Lines(s.env.Columns()))
			return nil
		})
	})
}

func (a *app) roomShowCmd() *cobra.Command {
	var lf loadFlags
	c := a.cmd("show ROOM", "One room: its air, racks, wheels and their water", `
rindkeep room show cellar
rindkeep room show cellar --volume 80 --air-change 0.5`, exactly("ROOM"), func(cmd *cobra.Command, args []string) error {
		x, err := lf.given()
		if err != nil {
			return err
		}
		return a.look(func(s *session) error {
			r, err := s.tx.Room(args[0])
			if err != nil {
				return at(safeWord(args[0]), err)
			}
			d, err := s.roomDocOf(r)
			if err != nil {
				return err
			}
			counts, err := s.tx.ShelfCounts(cave.Place(r.Name))
			if err != nil {
				return err
			}
			load, err := s.waterLoad(r, s.now, x, lf.without)
			if err != nil {
				return err
			}
			if s.json {
				type shelf struct {
					Place  string `json:"place"`
					Wheels int    `json:"wheels"`
				}
				list := []shelf{}
				for _, c := range counts {
					list = append(list, shelf{string(c.Place), c.Wheels})
				}
				return s.document(struct {
					Schema  string   `json:"schema"`
					Room    roomDoc  `json:"room"`
					Shelves []shelf  `json:"shelves"`
					Load    *loadDoc `json:"water_load"`
				}{schema("room"), d, list, load.doc()})
			}
			s.print("%s", s.style("1")(r.Name))
			if r.Title != "" {
				s.print("  %s", r.Title)
			}
			s.print("\n\n")
			t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
			t.Add("set to", fmt.Sprintf("%s, %.0f %% humidity, air %s", s.units.Temp(r.Temp), r.RH.Percent(), r.Movement))
			t.Add("limits", fmt.Sprintf("%s to %s, %.0f to %.0f %%", s.units.Temp(r.TempLow), s.units.Temp(r.TempHigh), r.RHLow.Percent(), r.RHHigh.Percent()))
			t.Add("dew point", s.units.Temp(air.DewPoint(r.SetPoint()))+": a colder wheel sweats when it comes in")
			space := ""
			if d.Capacity > 0 {
				space = fmt.Sprintf(" of %d", d.Capacity)
			}
			t.Add("wheels", fmt.Sprintf("%d%s", d.Wheels, space))
			last, ok, err := s.tx.LastReading(r.Name, s.now.Add(time.Millisecond))
			if err != nil {
				return err
			}
			if ok {
				fixed := r.Corrected(last)
				read := fmt.Sprintf("%s, %.0f %% at %s", s.units.Temp(fixed.Temp), fixed.RH.Percent(), fixed.At.In(s.loc).Format("Mon 2 Jan 15:04"))
				if what := r.Alarm(fixed, s.now); len(what) > 0 {
					read += "; ALARM: " + s.printer().Why(what)
				}
				t.Add("last read", read)
			}
			if n := len(r.Tests); n > 0 {
				x := r.Tests[n-1]
				t.Add("hygrometer", fmt.Sprintf("%+.1f points by %s on %s", x.Offset.Percent(), x.Salt, x.At.In(s.loc).Format("2 Jan 2006")))
			}
			s.lines(t.Lines(s.env.Columns()))
			if len(counts) > 0 {
				s.print("\n")
				t := text.Table{Indent: 2, Columns: []text.Column{{Title: "place"}, {Title: "wheels", Right: true}}}
				for _, c := range counts {
					t.Add(string(c.Place), fmt.Sprint(c.Wheels))
				}
				s.lines(t.Lines(s.env.Columns()))
			}
			s.print("\n")
			s.loadText(load)
			return nil
		})
	})
	lf.add(c)
	return a.completesArgs(c, func(s *session, _ int, _ string) []string { return s.roomNames() })
}
