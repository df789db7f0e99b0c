package page

import "encoding/json"

// The documents of the commands, as far as the desk shows them.

func decode(b []byte, doc any) error { return json.Unmarshal(b, doc) }

// est is an estimate with its interval.
type est struct {
	Best *float64 `json:"best"`
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
}

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

type makeDoc struct {
	Lot       string   `json:"lot"`
	Date      string   `json:"date"`
	Variety   string   `json:"variety"`
	Wheels    int      `json:"wheels"`
	Species   *string  `json:"milk_species"`
	Litres    *float64 `json:"milk_l"`
	Treatment *string  `json:"milk_treatment"`
	MilkFat   *float64 `json:"milk_fat_pct"`
	Protein   *float64 `json:"milk_protein_pct"`
	Curd      *float64 `json:"curd_g"`
	Aside     *float64 `json:"set_aside_g"`
	AsideFor  string   `json:"set_aside_for"`
	Salt      *float64 `json:"salt_g"`
	SaltRate  *float64 `json:"salt_rate_pct"`
	SaltWhere string   `json:"salt_where"`
	Moisture  *float64 `json:"start_moisture_pct"`
	Fat       *float64 `json:"start_fat_pct"`
	CheeseSt  *float64 `json:"start_salt_pct"`
	Measured  bool     `json:"start_measured"`
	Note      string   `json:"note"`
	By        string   `json:"by"`
}

type logLine struct {
	Mark  string   `json:"mark"`
	At    string   `json:"at"`
	By    string   `json:"by"`
	What  string   `json:"what"`
	Stage string   `json:"stage"`
	PH    *float64 `json:"ph"`
	Acid  *float64 `json:"acid_pct"`
	Words string   `json:"words"`
	Note  string   `json:"note"`
}

type lotDoc struct {
	Make   makeDoc `json:"make"`
	Wheels []struct {
		Tag   string `json:"tag"`
		Place string `json:"place"`
		Here  bool   `json:"here"`
	} `json:"wheels"`
	Salt struct {
		Given    *float64 `json:"given_g"`
		Computed *float64 `json:"computed_g"`
		Curd     *float64 `json:"of_curd_g"`
		Rate     *float64 `json:"rate_pct"`
	} `json:"salt"`
	Green *float64  `json:"green_weight_g"`
	Log   []logLine `json:"log"`
	Yield *struct {
		Milk       *float64 `json:"milk_g"`
		Kept       *float64 `json:"curd_kept_pct"`
		Expected   *float64 `json:"expected_g"`
		Got        *float64 `json:"got_g"`
		OfMilk     *float64 `json:"got_of_milk_pct"`
		OfExpected *float64 `json:"got_of_expected_pct"`
		Wheels     int      `json:"wheels"`
		Weighed    int      `json:"wheels_weighed"`
		Formula    string   `json:"formula"`
	} `json:"yield"`
	Entries []entry `json:"entries"`
}

type rack struct {
	Rack    string `json:"rack"`
	Shelves int    `json:"shelves"`
	Each    int    `json:"per_shelf"`
}

type roomLine struct {
	Name     string   `json:"name"`
	Title    string   `json:"title"`
	Temp     *float64 `json:"temp_c"`
	RH       *float64 `json:"rh_pct"`
	TempLow  *float64 `json:"temp_low_c"`
	TempHigh *float64 `json:"temp_high_c"`
	RHLow    *float64 `json:"rh_low_pct"`
	RHHigh   *float64 `json:"rh_high_pct"`
	Dew      *float64 `json:"dew_point_c"`
	Movement string   `json:"movement"`
	Racks    []rack   `json:"racks"`
	Capacity *int     `json:"capacity"`
	Wheels   int      `json:"wheels"`
}

type waterLoad struct {
	Wheels  int      `json:"wheels"`
	Now     est      `json:"now_g_per_h"`
	InAWeek est      `json:"in_a_week_g_per_h"`
	Volume  *float64 `json:"volume_m3"`
	Changes *float64 `json:"air_changes_per_h"`
	Settles *float64 `json:"settles_at_rh_pct"`
	Remove  *float64 `json:"to_remove_g_per_h"`
	Point   *float64 `json:"g_per_h_for_a_point"`
}

type roomDoc struct {
	Room    roomLine `json:"room"`
	Shelves []struct {
		Place  string `json:"place"`
		Wheels int    `json:"wheels"`
	} `json:"shelves"`
	Load *waterLoad `json:"water_load"`
}

type span struct {
	Min  *float64 `json:"min"`
	Mean *float64 `json:"mean"`
	Max  *float64 `json:"max"`
}

type airDoc struct {
	Days []struct {
		Date     string   `json:"date"`
		Readings int      `json:"readings"`
		Temp     span     `json:"temp_c"`
		RH       span     `json:"rh_pct"`
		Out      *float64 `json:"hours_out"`
	} `json:"days"`
	Gaps    int      `json:"gaps"`
	Longest *float64 `json:"longest_gap_h"`
	Alarm   *string  `json:"alarm"`
}

type aheadLot struct {
	Lot       string   `json:"lot"`
	Variety   string   `json:"variety"`
	Wheels    []string `json:"wheels"`
	Held      int      `json:"held"`
	Unweighed int      `json:"unweighed"`
	Mass      est      `json:"mass_kg"`
	On        string   `json:"on"`
	Expected  *onDoc   `json:"expected_on"`
	Now       bool     `json:"now"`
	Days      int      `json:"days"`
	Raw       bool     `json:"raw_milk"`
	Counted   string   `json:"counted_by"`
}

type aheadSum struct {
	Wheels    int `json:"wheels"`
	Mass      est `json:"mass_kg"`
	WheelsEnd int `json:"wheels_at_end"`
	MassEnd   est `json:"mass_at_end_kg"`
}

type aheadRoom struct {
	Room    string   `json:"room"`
	Wheels  int      `json:"wheels"`
	Minutes *float64 `json:"minutes"`
	Late    int      `json:"late"`
	Jobs    []struct {
		Job    string `json:"job"`
		Wheels int    `json:"wheels"`
	} `json:"jobs"`
}

type aheadDoc struct {
	From   string  `json:"from"`
	To     string  `json:"to"`
	Room   *string `json:"room"`
	Totals struct {
		Wheels    int      `json:"wheels"`
		Unweighed int      `json:"unweighed"`
		TooCold   int      `json:"too_cold_to_count"`
		Minutes   *float64 `json:"minutes"`
		Fullest   *float64 `json:"fullest_day_minutes"`
	} `json:"totals"`
	Days []struct {
		Date    string      `json:"date"`
		Rest    bool        `json:"rest"`
		Wheels  int         `json:"wheels"`
		Minutes *float64    `json:"minutes"`
		Late    int         `json:"late"`
		Rooms   []aheadRoom `json:"rooms"`
	} `json:"days"`
	Dry    []aheadLot `json:"dry"`
	Taste  []aheadLot `json:"taste"`
	Lawful []aheadLot `json:"lawful"`
	Ready  []aheadLot `json:"ready"`
	Sums   struct {
		Waiting aheadSum `json:"dry_and_waiting_for_a_coat"`
		Lawful  aheadSum `json:"lawful"`
		Ready   aheadSum `json:"ready"`
	} `json:"sums"`
	Rooms []struct {
		Room     string `json:"room"`
		Capacity *int   `json:"capacity"`
		Used     int    `json:"used"`
		Free     *int   `json:"free"`
		Come     int    `json:"come"`
		Leave    int    `json:"leave"`
		UsedEnd  int    `json:"used_at_end"`
		FreeEnd  *int   `json:"free_at_end"`
		ReadyEnd int    `json:"ready_at_end"`
		Water    struct {
			Now     est `json:"now_g_per_h"`
			InAWeek est `json:"in_a_week_g_per_h"`
		} `json:"water"`
	} `json:"rooms"`
}

type varietyLine struct {
	Name   string   `json:"name"`
	Title  string   `json:"title"`
	Rind   string   `json:"rind"`
	Plan   string   `json:"plan"`
	Weight *float64 `json:"weight_g"`
	Own    bool     `json:"own"`
}

type stockDoc struct {
	Date string `json:"date"`
	Lots []struct {
		Lot     string `json:"lot"`
		Variety string `json:"variety"`
		Made    string `json:"made"`
		stockSum
	} `json:"lots"`
	Total stockSum `json:"total"`
}

type stockSum struct {
	Wheels int `json:"wheels"`
	Mass   est `json:"mass_kg"`
	Held   int `json:"held"`
	Hand   int `json:"held_by_hand"`
	Law    int `json:"held_by_law"`
	Ready  int `json:"ready"`
	Free   int `json:"ready_and_not_held"`
}
