package sheet

import (
	"strings"

	"rindkeep/cmd/text"
)

// Day is the day's list, in walking order.
type Day struct {
	Date     string // its heading: the day in words
	Summary  string
	Alarms   []string // what is wrong with the air
	Rooms    []Room
	Cautions []string
	Unit     string // written after the blank for a weight
}

// Room is a room of the walk.
type Room struct {
	Name    string
	Shelves []Shelf
}

// Shelf is one place of a room; Name is "" for the room at large.
type Shelf struct {
	Name  string
	Lines []Line
}

// Line is one job at one place.
type Line struct {
	Boxes int // to tick: one a round left
	Job   string
	Who   string
	Late  string   // "LATE 2 days"; "" where it is not
	Why   string   // and its note
	Weigh []string // tags that get a blank for their weight
}

const boxesInRow = 3

// Today lays out the day's list for a clipboard.
func Today(h Head, d Day) (Doc, error) {
	p := begin(h, d.Date)
	p.block("", d.Summary)
	p.blocks("B", d.Alarms)
	t := text.Table{Columns: []text.Column{{Bold: true}, {Wrap: true}, {Wrap: true}}}
	across := 1
	for _, r := range d.Rooms {
		for _, s := range r.Shelves {
			for _, l := range s.Lines {
				t.Add(l.Job, l.Who, strings.Trim(l.Late+"\n"+l.Why, "\n"))
				across = max(across, min(l.Boxes, boxesInRow))
			}
		}
	}
	box := p.lh() * 1.2
	step := box + 1.5
	p.left += float64(across)*step + 2
	g := p.columns(t)
	p.left = margin
	row := 0
	for _, r := range d.Rooms {
		p.skip(0.6)
		p.repeat = nil
		p.heading(r.Name, 1.35, 5*box)
		p.rule(p.y, 0.5, 0)
		p.skip(0.2)
		for _, s := range r.Shelves {
			p.repeat = nil
			if s.Name != "" {
				p.heading(s.Name, 1, 2*box)
			}
			where := r.Name
			if s.Name != "" {
				where += ", " + s.Name
			}
			p.repeat = func() { p.heading(where+", continued", 1, 0) }
			for _, l := range s.Lines {
				high := float64((max(1, l.Boxes)+boxesInRow-1)/boxesInRow)*step + p.lh()*0.45 - 1.5
				cells := g.cells(g.Rows[row], 0)
				if l.Late != "" {
					cells[2].bold = 1
				}
				p.row(cells, high, p.lh()*0.6, func(y float64) {
					for i := range l.Boxes {
						p.box(p.left+float64(i%boxesInRow)*step, y+p.lh()*0.22+float64(i/boxesInRow)*step, box)
					}
				})
				row++
				p.weights(l.Weigh, d.Unit, g.x[0])
			}
			p.skip(0.4)
		}
	}
	p.repeat = nil
	if len(d.Rooms) > 0 {
		p.need(2.4 * p.lh())
		p.blanks("done by", 0.5, "at")
		p.skip(0.6)
	}
	p.framed(d.Cautions)
	return done(p.pdf)
}

// weights draws a blank for the weight of each wheel, as many side by side as their tags leave room for,
// from left on.
func (p *page) weights(tags []string, unit string, left float64) {
	if len(tags) == 0 {
		return
	}
	p.font("", p.size)
	blank := p.size * 2.6 // a number in a gloved hand
	tag := 0.0
	for _, t := range tags {
		tag = max(tag, p.wide(t))
	}
	room := p.right - left
	each := func(n int) float64 { return (room - float64(n-1)*2*gap) / float64(n) }
	n := 1
	for n < 3 && tag+2+blank+2+p.wide(unit) <= each(n+1) {
		n++
	}
	w := each(n)
	tag = min(tag, w-2-blank-2-p.wide(unit))
	for i := 0; i < len(tags); i += n {
		// Left to right, as it is read; a tag too long for its line takes two.
		side := tags[i:min(i+n, len(tags))]
		names := make([][]string, len(side))
		lines := 0
		for k, t := range side {
			names[k] = p.plain().wrap(t, tag)
			lines = max(lines, len(names[k]))
		}
		high := p.lh() * (0.75 + float64(lines))
		p.need(high)
		p.font("", p.size)
		p.y += high
		for k := range side {
			x := left + float64(k)*(w+2*gap)
			for m, l := range names[k] {
				p.put(x, p.y-1.2-float64(len(names[k])-1-m)*p.lh(), l)
			}
			end := x + w - p.wide(unit) - 2
			p.line(x+tag+2, p.y-0.7, end, p.y-0.7, 0.25, 60)
			p.put(end+1.5, p.y-1.2, unit)
		}
	}
	p.y += p.lh() * 0.5
	p.rule(p.y, 0.15, 170)
}
