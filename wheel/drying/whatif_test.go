package drying

import (
	"testing"

	"rindkeep/cave/air"
)

func TestPlansForAWheelAreComparedSideBySide(t *testing.T) {
	f := Estimate(pressed(1, 1, 2, 4, 7))
	bare, cloth, wax := f.WhatIf(8, Plan{}), f.WhatIf(8, Plan{Coat: Cloth}), f.WhatIf(8, Plan{Coat: Wax})
	if !(wax.Loss90.Best < cloth.Loss90.Best && cloth.Loss90.Best < bare.Loss90.Best) {
		t.Errorf("loss on day 98: %.4f in wax, %.4f in cloth, %.4f bare", wax.Loss90.Best, cloth.Loss90.Best,
			bare.Loss90.Best)
	}
	for _, o := range []Outcome{bare, cloth, wax} {
		if !(o.Loss30.Best < o.Loss90.Best && o.Loss90.Best < o.Loss180.Best) {
			t.Errorf("%q: losses %.4f, %.4f, %.4f", o.Coat, o.Loss30.Best, o.Loss90.Best, o.Loss180.Best)
		}
		if w := 2000 * (1 - o.Loss180.Best); o.Weight180.Best != w || o.Weight180.Low > w || o.Weight180.High < w {
			t.Errorf("%q: %+v, want about %.0f g", o.Coat, o.Weight180, w)
		}
		if o.Slime {
			t.Errorf("%q turns slimy at 85 %%", o.Coat)
		}
	}
	dry := []Span{{Air: air.State{Temp: 16, RH: 0.5}, Movement: air.Brisk}}
	wet := []Span{{Air: air.State{Temp: 10, RH: 0.97}, Movement: air.Still}}
	if o := f.WhatIf(8, Plan{Air: dry}); !o.Crack || o.Slime {
		t.Errorf("bare at 50 %%, brisk: %+v", o)
	}
	if o := f.WhatIf(8, Plan{Air: wet}); o.Crack || !o.Slime {
		t.Errorf("bare at 97 %%, still: %+v", o)
	}
	if o := f.WhatIf(8, Plan{Coat: Wax, Air: dry}); o.Crack || o.Slime {
		t.Errorf("in wax: %+v", o)
	}
}
