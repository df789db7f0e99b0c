package words

import (
	"fmt"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
)

// Minute is an instant of a document (RFC 3339) as people read it: 2026-11-25 08:30.
func Minute(instant string) string { return strings.Replace(instant[:16], "T", " ", 1) }

// Shell is a name as it can be typed again on a command line.
func Shell(s string) string {
	if strings.ContainsFunc(s, func(r rune) bool {
		return !strings.ContainsRune("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_./", r)
	}) {
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return s
}

// Bulk is a mass that may be more than a wheel's: in kilograms from 1 kg up.
func (p Printer) Bulk(g quantity.Grams) string {
	if p.Units == quantity.Imperial || g < 1000 {
		return p.Units.Weight(g)
	}
	return fmt.Sprintf("%.2f kg", g.Kilograms())
}

// Salt is a mass of salt, to a tenth of a gram.
func (p Printer) Salt(g quantity.Grams) string {
	if p.Units == quantity.Imperial {
		return p.Units.Weight(g)
	}
	return fmt.Sprintf("%.1f g", float64(g))
}

// DayMonthYear is a date that no one reads the wrong way round: 20 Nov 2026.
func DayMonthYear(d day.Date) string {
	y, m, n := d.Civil()
	return fmt.Sprintf("%d %s %d", n, m.String()[:3], y)
}
