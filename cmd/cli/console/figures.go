package console

import (
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/quantity"
	"rindkeep/store"
)

// Figures reads the figures of a command's flags and arguments, bare numbers in the reader's units. After a first
// value that can't be read it reads no more: Err says what was wrong, once, when all are read.
type Figures struct {
	c   *Console
	Err error
}

// Figures reads the figures of this run's command line.
func (c *Console) Figures() *Figures { return &Figures{c: c} }

// Read reads a flag that has to be given.
func Read[T any](f *Figures, flag, value string, parse func(string) (T, error)) (v T) {
	if f.Err == nil {
		v, f.Err = Need(flag, value, parse)
	}
	return v
}

// Weight reads the weight of a wheel or less.
func (f *Figures) Weight(flag, value string) quantity.Grams {
	return inUnits(f, flag, value, quantity.Units.ParseWeight)
}

// Bulk reads a weight of milk, curd or a whole make.
func (f *Figures) Bulk(flag, value string) quantity.Grams {
	return inUnits(f, flag, value, quantity.Units.ParseBulk)
}

// Temp reads a temperature.
func (f *Figures) Temp(flag, value string) quantity.Celsius {
	return inUnits(f, flag, value, quantity.Units.ParseTemp)
}

// Length reads a length.
func (f *Figures) Length(flag, value string) quantity.Metres {
	return inUnits(f, flag, value, quantity.Units.ParseLength)
}

// Volume reads a volume.
func (f *Figures) Volume(flag, value string) quantity.Litres {
	return inUnits(f, flag, value, quantity.Units.ParseVolume)
}

// Pressure reads a pressure.
func (f *Figures) Pressure(flag, value string) quantity.Pascals {
	return inUnits(f, flag, value, quantity.Units.ParsePressure)
}

// Percent reads a percentage.
func (f *Figures) Percent(flag, value string) quantity.Fraction {
	return Read(f, flag, value, quantity.ParsePercent)
}

// Readers of figures for Figure, Needed and Maybe.
var (
	Weight   = (*Figures).Weight
	Bulk     = (*Figures).Bulk
	Temp     = (*Figures).Temp
	Length   = (*Figures).Length
	Volume   = (*Figures).Volume
	Pressure = (*Figures).Pressure
	Percent  = (*Figures).Percent
)

// As reads a figure without units.
func As[T any](parse func(string) (T, error)) func(in *Figures, flag, value string) T {
	return func(in *Figures, flag, value string) T { return Read(in, flag, value, parse) }
}

// figure is a flag that is read when the command runs, once the reader's units are known.
type figure struct {
	word string
	must bool
	read func(in *Figures, flag, word string)
}

func (f *figure) String() string     { return f.word }
func (f *figure) Set(s string) error { f.word = s; return nil }
func (f *figure) Type() string       { return "string" }

// Figure adds a flag that is read into p. Left out, it takes def; where that's "", p stays as it is.
func Figure[T any](f *pflag.FlagSet, p *T, read func(*Figures, string, string) T, name, def, usage string) {
	f.Var(&figure{def, false, func(in *Figures, flag, word string) { *p = read(in, flag, word) }}, name, usage)
}

// Needed adds one that has to be given.
func Needed[T any](f *pflag.FlagSet, p *T, read func(*Figures, string, string) T, name, usage string) {
	f.Var(&figure{"", true, func(in *Figures, flag, word string) { *p = read(in, flag, word) }}, name, usage)
}

// Maybe adds one that may be left out; p stays nil then.
func Maybe[T any](f *pflag.FlagSet, p **T, read func(*Figures, string, string) T, name, usage string) {
	f.Var(&figure{"", false, func(in *Figures, flag, word string) { *p = new(read(in, flag, word)) }}, name, usage)
}

// Given says whether a flag of text or a figure was given.
func Given(cmd *cobra.Command, flag string) bool {
	return cmd.Flags().Lookup(flag).Value.String() != ""
}

// ReadFigures reads the flags of figures that were given.
func (c *Console) ReadFigures(cmd *cobra.Command) error {
	in := c.Figures()
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if x, ok := f.Value.(*figure); ok && (x.must || x.word != "") {
			x.read(in, "--"+f.Name, x.word)
		}
	})
	return in.Err
}

func inUnits[T any](f *Figures, flag, value string, parse func(quantity.Units, string) (T, error)) T {
	return Read(f, flag, value, func(s string) (T, error) { return parse(f.c.ReaderUnits(), s) })
}

// number is a flag's figure, with a decimal point or a decimal comma.
type number float64

func (n *number) String() string { return strconv.FormatFloat(float64(*n), 'g', -1, 64) }
func (n *number) Type() string   { return "float64" }

// Set reads the figure; a very small one may have an exponent.
func (n *number) Set(s string) error {
	x, err := quantity.Number(s)
	if err != nil && strings.ContainsAny(s, "eE") {
		x, err = strconv.ParseFloat(s, 64)
	}
	if err == nil && (math.IsInf(x, 0) || math.IsNaN(x)) {
		err = strconv.ErrRange
	}
	if err == nil {
		*n = number(x)
	}
	return err
}

// NumberVar adds a flag of a figure.
func NumberVar(f *pflag.FlagSet, p *float64, name string, def float64, usage string) {
	*p = def
	f.Var((*number)(p), name, usage)
}

// ReaderUnits are the units the reader chose with --units or RINDKEEP_UNITS, else
// the book's, else metric. Until a session opens the book it takes a look at it.
func (c *Console) ReaderUnits() quantity.Units {
	if !c.unitsKnown {
		_ = c.App.Check(c.Ctx) // what is wrong with the book, the command itself says
		c.unitsKnown = true
	}
	return c.Units
}

// UseUnits takes the units that the reader has just chosen.
func (c *Console) UseUnits(u quantity.Units) { c.Units, c.Words.Units, c.unitsKnown = u, u, true }

// bookOpened takes the zone of the book, and its units where the reader chose none.
func (c *Console) bookOpened(tx *store.ReadTx) {
	set := tx.Settings()
	if zone, err := time.LoadLocation(set.Zone); err == nil {
		c.Words.Zone = zone
	}
	if u, err := quantity.ParseUnits(set.Units); err == nil && !c.unitsKnown {
		c.Units, c.Words.Units = u, u
	}
	c.unitsKnown = true
}
