package work

import (
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// YieldQuestion asks for the cheddar a milk should give. The casein is given, or
// follows from the protein; the milk is given by weight or by volume.
type YieldQuestion struct {
	Fat, Casein, Protein quantity.Fraction // of the milk; Casein or Protein is 0
	Moisture             quantity.Fraction // of the cheese
	Milk                 quantity.Grams    // 0: not given
	Volume               quantity.Litres   // of the milk, where its weight isn't given
	Got                  quantity.Grams    // cheese that came of it, to compare; 0: not given
}

// Yield is the answer to a YieldQuestion.
type Yield struct {
	Schema   string   `json:"schema"`
	Fat      *float64 `json:"fat_pct"`
	Casein   *float64 `json:"casein_pct"`
	Moisture *float64 `json:"moisture_pct"`
	Yield    *float64 `json:"yield_pct"`
	Milk     *float64 `json:"milk_kg"`
	Cheese   *float64 `json:"cheese_kg"`
	Got      *float64 `json:"got_kg"`
	GotYield *float64 `json:"got_yield_pct"`
	GotOf    *float64 `json:"got_of_expected_pct"`
	Basis

	MilkMass, Expected, GotMass quantity.Grams `json:"-"` // 0 where they aren't known
}

// MoreCheeseThanMilk refuses cheese that outweighs its milk.
type MoreCheeseThanMilk struct {
	Cheese quantity.Grams `json:"cheese_g"`
	Milk   quantity.Grams `json:"milk_g"`
}

func (MoreCheeseThanMilk) Code() string { return "more-cheese-than-milk" }

// YieldOf works out the cheddar a milk should give.
func YieldOf(q YieldQuestion) (Yield, error) {
	r := Yield{Schema: app.Schema("work-yield")}
	r.uses("yield")
	if q.Protein > 0 {
		q.Casein = q.Protein * wheel.CaseinOfProtein
		r.uses("casein")
	}
	y, err := wheel.VanSlyke(q.Fat, q.Casein, q.Moisture)
	if err != nil {
		return r, misused(err)
	}
	r.Fat, r.Casein, r.Moisture, r.Yield = app.PctNum(q.Fat), app.PctNum(q.Casein), app.PctNum(q.Moisture), app.PctNum(y)
	if q.Volume > 0 {
		q.Milk = wheel.MilkMass(q.Volume)
		r.uses("milk-density")
	}
	if q.Milk == 0 {
		return r, nil
	}
	v := wheel.VatOf(q.Milk, y)
	r.MilkMass, r.Expected = v.Milk, v.Cheese
	r.Milk, r.Cheese = app.Num(v.Milk.Kilograms()), app.Num(v.Cheese.Kilograms())
	if q.Got == 0 {
		return r, nil
	}
	if q.Got >= q.Milk {
		return r, app.Misuse("got", MoreCheeseThanMilk{q.Got, q.Milk})
	}
	of, expected := v.Got(q.Got)
	r.GotMass, r.Got, r.GotYield, r.GotOf = q.Got, app.Num(q.Got.Kilograms()), app.PctNum(of), app.PctNum(expected)
	return r, nil
}
