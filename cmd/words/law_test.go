package words

import (
	"testing"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
)

func TestWhatARuleAsksIsSaidInTheReadersUnits(t *testing.T) {
	r := holdrule.Rule{
		Milk: []wheel.Treatment{wheel.Raw, wheel.Thermised}, Days: 90, Warm: true, MinTemp: 5. / 3, From: "drying",
		Label: "raw milk",
	}
	for u, want := range map[quantity.Units]string{
		quantity.Metric:   `raw or thermised milk: 90 days at 1.7 °C or more since drying began; label "raw milk"`,
		quantity.Imperial: `raw or thermised milk: 90 days at 35.0 °F or more since drying began; label "raw milk"`,
	} {
		if got := (Printer{Units: u}).RuleAsks(r); got != want {
			t.Errorf("%s: %s, want %s", u, got, want)
		}
	}
}
