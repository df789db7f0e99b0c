package wheel

import (
	"cmp"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Van Slyke's formula for cheddar, kg of cheese from 100 kg of milk:
//
//	Y = (0.93 F + C - 0.1) 1.09/(1 - M)
//
// F and C are percent fat and casein in the milk, M is the cheese's moisture as a
// fraction. Source: Mullan 2008. 0.93 is the share of the fat that the cheese
// keeps, 0.1 the casein lost from 100 kg of milk, and 1.09 allows for whey solids
// and salt in the cheese. Other varieties keep other shares.
const (
	vanSlykeFatKept    = 0.93
	vanSlykeCaseinLost = 0.001 // of the milk
	vanSlykeSolids     = 1.09
)

// MilkDensity is the density of whole milk, kg/l (from memory; cow's milk at 15 to
// 20 C has 1.028 to 1.034).
const MilkDensity = 1.03

// CaseinOfProtein is the share of casein in a milk's protein where only the protein
// is known (from memory; cow's milk has 0.75 to 0.82).
const CaseinOfProtein = 0.78

// MoreThanMilk is figures by which a milk gives more cheese than there is milk.
type MoreThanMilk struct {
	Fat      quantity.Fraction `json:"fat_pct"`
	Casein   quantity.Fraction `json:"casein_pct"`
	Moisture quantity.Fraction `json:"moisture_pct"`
}

// Code is more-than-milk.
func (MoreThanMilk) Code() string { return "more-than-milk" }

// VanSlyke is the cheddar that milk should give, as a fraction of the milk's mass.
// Fat and casein are fractions of the milk, moisture that of the cheese. It
// refuses milk and cheese out of range: our own bounds, wide ones.
func VanSlyke(fat, casein, moisture quantity.Fraction) (quantity.Fraction, error) {
	err := cmp.Or(
		reason.Within("milk-fat", fat, 0, 0.2), reason.Within("milk-casein", casein, 0.005, 0.15),
		reason.Within("moisture", moisture, 0.15, 0.85),
	)
	if err != nil {
		return 0, err
	}
	y := (vanSlykeFatKept*fat + casein - vanSlykeCaseinLost) * vanSlykeSolids / (1 - moisture)
	if y >= 1 {
		return 0, reason.Err(MoreThanMilk{fat, casein, moisture})
	}
	return y, nil
}

// MilkMass is the mass of a volume of milk at MilkDensity.
func MilkMass(v quantity.Litres) quantity.Grams {
	return quantity.Grams(1000 * MilkDensity * float64(v))
}

// Vat is some milk and the cheese it should give.
type Vat struct {
	Milk, Cheese quantity.Grams
}

// VatOf is the cheese from milk at a yield that is a fraction of the milk.
func VatOf(milk quantity.Grams, yield quantity.Fraction) Vat {
	return Vat{Milk: milk, Cheese: milk * quantity.Grams(yield)}
}

// Got gives the actual cheese as a fraction of the milk and of the expected cheese.
// Both are 0 if no cheese was expected.
func (v Vat) Got(cheese quantity.Grams) (ofMilk, ofExpected quantity.Fraction) {
	if !(v.Milk > 0) || !(v.Cheese > 0) {
		return 0, 0
	}
	return quantity.Fraction(cheese / v.Milk), quantity.Fraction(cheese / v.Cheese)
}

// Green is what a lot's wheels weighed as they came out of the press.
type Green struct {
	Wheels  int // of the lot, those entered by mistake left out
	Weighed int
	Total   quantity.Grams
}

// Add counts a wheel of the lot.
func (g *Green) Add(l Life) {
	if IsVoid(l.Entries) {
		return
	}
	g.Wheels++
	if w := l.Chain.Green; w > 0 && !l.Aged() {
		g.Weighed++
		g.Total += w
	}
}

// YieldOf is Yield of a lot's wheels. Until each of them is weighed there is nothing
// to compare with what the milk should give.
func (s MakeSheet) YieldOf(g Green) (Yield, bool) {
	if g.Weighed < g.Wheels {
		return s.Yield(0)
	}
	return s.Yield(g.Total)
}
