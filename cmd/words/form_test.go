package words

import (
	"reflect"
	"strings"
	"testing"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/intake"
	"rindkeep/wheel/variety/tomlfile"
)

// needFigures have functions of their own, which want figures in them.
var needFigures = map[reflect.Type]bool{
	reflect.TypeFor[care.Unsound](): true, reflect.TypeFor[intake.NoAirColumns](): true,
	reflect.TypeFor[intake.Problem](): true, reflect.TypeFor[tomlfile.Fault](): true,
	reflect.TypeFor[app.NoBackup](): true,
}

func TestFormsNameFieldsThatTheirReasonsHave(t *testing.T) {
	for of, s := range sentences {
		r, flat := of.(reason.Reason)
		if !flat {
			of := of.(reflect.Type)
			if of.Kind() == reflect.Pointer || needFigures[of] {
				continue
			}
			r = reflect.Zero(of).Interface().(reason.Reason)
		}
		for _, write := range []func(Printer, reason.Reason) string{s.full, s.brief} {
			if write == nil {
				continue
			}
			for _, where := range []Surface{CommandLine, Page} {
				if got := write(Printer{For: where}, r); strings.ContainsAny(got, "{}[]") {
					t.Errorf("%T reads %q", r, got)
				}
			}
		}
	}
}
