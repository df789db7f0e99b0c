package page

import (
	"encoding/json"

	"rindkeep/cmd/app"
)

// The documents of the commands, as far as the desk shows them.

func decode(b []byte, doc any) error { return json.Unmarshal(b, doc) }

type est = app.Est

type onDoc struct {
	Best string  `json:"best"`
	Low  string  `json:"low"`
	High *string `json:"high"`
}

type wheelLine struct {
	Wheel   string   `json:"wheel"`
	Lot     string   `json:"lot"`
	Variety string   `json:"variety"`
	Age     int      `json:"age_days"`
	Stage   string   `json:"stage"`
	Place   string   `json:"place"`
	Plan    string   `json:"plan"`
	Weight  *float64 `json:"weight_g"`
	Loss    *float64 `json:"loss_pct"`
	Held    bool     `json:"held"`
	Law     bool     `json:"held_by_law"`
	Gone    *string  `json:"gone_on"`
}

type rule struct {
	Rule string `json:"rule"`
	Met  *bool  `json:"met"`
	Have string `json:"have"`
	Need string `json:"need"`
}

type dryDoc struct {
	Wheel    string  `json:"wheel"`
	Verdict  string  `json:"verdict"`
	Rate     est     `json:"rate_pct_per_day"`
	Rules    []rule  `json:"rules"`
	On       *onDoc  `json:"expected_on"`
	Advice   string  `json:"advice"`
	Now      est     `json:"present_loss_pct"`
	Weighed  *string `json:"weighed_at"`
	Standing string  `json:"standing"`
	Leak     *string `json:"leak"`
}

type entry struct {
	ID      string `json:"id"`
	Of      string `json:"of"`
	Mark    string `json:"mark"`
	What    string `json:"what"`
	At      string `json:"at"`
	Written string `json:"written"`
	By      string `json:"by"`
	Detail  string `json:"detail"`
	Note    string `json:"note"`
	Struck  bool   `json:"struck"`
}

type limit struct {
	Limit  string `json:"limit"`
	Have   string `json:"have"`
	Met    *bool  `json:"met"`
	Source string `json:"source"`
}

type dueJob struct {
	Job  string `json:"job"`
	Due  string `json:"due"`
	Late int    `json:"late_days"`
	Why  string `json:"why"`
	Coat string `json:"coat"` // that the plan wants
}

type wheelDoc struct {
	wheelLine
	Title       string   `json:"variety_title"`
	Made        string   `json:"made"`
	Shape       string   `json:"shape"`
	Green       *float64 `json:"green_weight_g"`
	Began       *string  `json:"drying_began"`
	Coat        *float64 `json:"coat_g"`
	Composition *struct {
		Moisture est `json:"moisture_pct"`
		MFFB     est `json:"mffb_pct"`
		FDM      est `json:"fdm_pct"`
		Salt     est `json:"salt_in_moisture_pct"`
		Activity est `json:"water_activity"`
	} `json:"composition"`
	Limits []limit  `json:"limits"`
	Holds  []string `json:"holds"`
	Laws   []struct {
		Met   bool   `json:"met"`
		Words string `json:"words"`
	} `json:"law"`
	Dry     *dryDoc  `json:"dry"`
	Due     []dueJob `json:"due"`
	Notes   []string `json:"notes"`
	Entries []entry  `json:"entries"`
}
