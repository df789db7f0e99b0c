package words

import (
	"rindkeep/cmd/app/work"
)

// The sentences of the calculators.
func init() {
	learn(
		form[work.MoreLostThanWater]("a loss of {Loss:exact} is more water than the {Water:exact} there is; give a loss "+
			"under {Water:exact}"),
		form[work.MoreThanWhole]("moisture, fat and salt come to {Sum:exact}; together they are under 100 %"),
		form[work.Altitude]("an altitude of {Metres:%.4g} m is out of range; give -500 to 11000"),
		form[work.MoreCheeseThanMilk]("{Cheese:bulk} of cheese can't come from {Milk:bulk} of milk"),
	)
}

// Explain fills in the formulas that an answer comes from.
func (p Printer) Explain(b *work.Basis) {
	for _, f := range b.Formulas {
		x := formulas[f]
		b.Explain = append(b.Explain, work.Explained{Formula: x[0], Source: x[1]})
	}
}

// formulas are the formulas of the calculators, with their sources. The constants
// are where the figures are worked out.
var formulas = map[work.Formula][2]string{
	"salt": {
		"salt = curd x rate",
		"definition of a rate on curd weight; 1.5 to 2.5 % for milled curd is common practice, no source",
	},
	"salt-in-moisture": {
		"salt in moisture = salt / moisture, both of the cheese, which is not salt / (salt + moisture)",
		"definition, as used for cheddar",
	},
	"moisture": {"M = 1 - (1 - M0)/(1 - loss)", "dry solids stay and only water goes: m/m0 = (1 - M0)/(1 - M)"},
	"mffb": {
		"moisture on fat-free basis = moisture / (1 - fat), fat after the loss = fat / (1 - loss)",
		"Codex CXS 283, definition; its bands of firmness from memory",
	},
	"fdm": {
		"fat in dry matter = fat / (1 - moisture), the same before and after",
		"Codex CXS 283, definition; its classes from memory",
	},
	"water-activity": {
		"water activity = 1 - 0.033 m, m = mol of salt per kg of water = 1000 (salt / moisture) / 58.443",
		"Marcos et al. 1981, J Dairy Sci 64:622 (abstract), for moisture above about 40 %; good to about 1.5 mol/kg",
	},
	"saturation": {
		"ln p = -5800.2206/T + 1.3914993 - 0.048640239 T + 4.1764768e-5 T^2 - 1.4452093e-8 T^3 + 6.5459673 ln " +
			"T, p in Pa, T in K, over water (over ice below 0.01 C its ice form)",
		"Hyland and Wexler, as in ASHRAE Fundamentals; over ice from memory, checked against PsychroLib",
	},
	"vapour": {
		"vapour pressure e = RH p; deficit = p - e; dew point: the temperature at which p is e",
		"definitions",
	},
	"humidity-ratio": {"humidity ratio W = 0.621945 e/(pressure - e)", "ASHRAE Fundamentals"},
	"wet-bulb": {
		"wet bulb tw: W = ((2501 - 2.326 tw) Ws - 1.006 (t - tw))/(2501 + 1.86 t - 4.186 tw)",
		"ASHRAE Fundamentals",
	},
	"absolute-humidity": {
		"absolute humidity = 1000 e/(461.5 T)",
		"ideal gas law, gas constant of water vapour 8.314462/0.018015 J/(kg K), both from memory",
	},
	"diffusion-inside": {
		"inside the wheel water moves by diffusion, dX/dt = D div grad X, in the wheel's own shape",
		"Crank, The Mathematics of Diffusion (from memory); D of a hard cheese, 1.8e-11 m2/s at 12 C, is our " +
			"calibration between two measurements (7.8e-12, Simal et al. 2001, J Food Eng 48:269, and 2.5e-11) by " +
			"the cheddar table of Thom and Fisk 1918 and others",
	},
	"surface-flux": {
		"at the rind flux = k (aw psat(Ts) - RH psat(Ta)), k = h/(rho cp Le^(2/3) Rw T), Le^(2/3) = 0.883",
		"Chilton-Colburn analogy (from memory); h by the air's movement: 2.5, 3.5, 6.5 W/(m2 K), computed",
	},
	"surface-cooling": {
		"surface temperature Ts: (h + hr) (Ta - Ts) = latent heat x flux, latent heat = 2501 - 2.326 t kJ/kg, " +
			"hr = 4 sigma 0.97 T^3",
		"heat balance; latent heat from ASHRAE Fundamentals, emissivity from memory",
	},
	"sorption": {
		"water activity of the cheese = that of its salt water x that of its protein",
		"Ross 1975 (from memory); salt: Pitzer, agreeing with Robinson and Stokes; protein: a form after " +
			"Halsey 1948 set to casein's isotherm (from memory)",
	},
	"linear-surface": {
		"linear surface law: flux = k_s rho_s (X_surface - X_balance), constant balance moisture",
		"Crank, The Mathematics of Diffusion, surface exchange (from memory)",
	},
	"two-rates": {
		"loss = (q/c^2) (exp(c^2 t) erfc(c sqrt(t)) - 1 + 2 c sqrt(t/pi)), c = 2 q/(s sqrt(pi)); q first-day " +
			"rate, s root-day rate",
		"Crank, The Mathematics of Diffusion, surface evaporation of a semi-infinite medium (form from " +
			"memory)",
	},
	"least-squares": {
		"green weight, q and s with the least sum of (weight - green weight (1 - loss))^2; standard errors " +
			"from the linearised problem",
		"nonlinear least squares, by definition; tested with NIST's Misra1a",
	},
	"prior": {
		"log of the air side and log of the inside: the most likely by the weights and by the physics' own " +
			"spread together; standard errors from the curvature there",
		"Bayes' rule with a normal prior, Laplace approximation",
	},
	"brine-density": {
		"density at 20 C: interpolated in the table of 4 to 26 % and water by monotone cubics",
		"tables of WNT 1974; water 0.9982 g/ml (from memory); interpolation Fritsch and Butland 1984 (from " +
			"memory)",
	},
	"per-water": {
		"g per 100 g of water = 100 s/(1 - s), s g of salt per g of brine; full at s = 0.264, which is 35.9",
		"definition; saturation from memory",
	},
	"wet-surface": {
		"(h + hr)(Ta - Ts) = lambda k (aw psat(Ts) - vapour); flux = k (aw psat(Ts) - vapour); k = h/(rho cp " +
			"Le^(2/3) Rw T)",
		"heat balance of a wet surface with convection, radiation and evaporation; Chilton and Colburn's " +
			"analogy, Le^(2/3) 0.883 (from memory)",
	},
	"baume": {
		"Baume = 145 - 145/SG, SG of brine at 60 F over water at 60 F, from the density at 20 C and the " +
			"expansion between",
		"definition of the American scale for liquids heavier than water; expansion from densities at 0, 10 and 25 C (from " +
			"memory), good to 0.02 degrees",
	},
	"salometer": {
		"salometer = 100 s/0.26395, at 60 F",
		"the salometer's scale: 100 degrees is 26.395 % of salt (from memory)",
	},
	"brine-freezing": {
		"freezing: interpolated in the table of 2 to 23.3 % by monotone cubics; past 23.3 % all is frozen at " +
			"-21.1 C",
		"Lange's Handbook, 15th ed.",
	},
	"bring-back": {
		"salt = brine (to - now)/(1 - to); water = brine (now/to - 1); brine = volume x density",
		"mass balance of salt and of water",
	},
	"new-brine":  {"salt = volume x density x s; water = volume x density x (1 - s)", "mass balance"},
	"brine-rule": {"hours in brine = pounds x inches of thickness, brine nearly full", "common practice, no source"},
	"brine-diffusion": {
		"salt in moisture / salt per water of the brine = 1 - slab(D t/half height^2) x cylinder(D " +
			"t/radius^2), the surface held at the brine's strength; radius from weight and height at 1080 kg/m3",
		"Crank, The Mathematics of Diffusion (from memory); D of salt 1 to 5.3e-10 m2/s, Floury et al. 2010, middle taken " +
			"as the geometric mean; density from memory",
	},
	"pressure": {
		"pressure = load x lever x g / surface, g = 9.80665 m/s2",
		"definition; standard gravity from memory",
	},
	"press-surface": {"surface = pi diameter^2/4, or length x width", "geometry"},
	"pressure-units": {
		"1 kg/cm2 = 98.0665 kPa; 1 psi = 6.894757 kPa",
		"exact, from standard gravity, the pound (0.45359237 kg) and the inch (2.54 cm), from memory",
	},
	"yield": {
		"kg of cheese from 100 kg of milk = (0.93 F + C - 0.1) 1.09/(1 - M), F and C percent of the milk, M a " +
			"fraction",
		"Van Slyke's formula for cheddar, as in Mullan 2008",
	},
	"milk-density": {"1 l of milk = 1.03 kg", "whole cow's milk (from memory)"},
	"casein":       {"casein = 0.78 x protein", "cow's milk (from memory)"},
}
