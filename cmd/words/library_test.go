package words

import (
	"strings"
	"testing"

	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
)

func TestAFaultInAFileIsOneSentenceWithItsLineAndRemedy(t *testing.T) {
	plan := func(lines string) error {
		_, err := schedule.ParsePlan("p.toml", []byte("name = \"my-plan\"\ntitle = \"Mine\"\n"+lines))
		return err
	}
	step := func(lines string) error { return plan("[[step]]\njob = \"turn\"\n" + lines) }
	changed := func(text, old, new string) []byte {
		if !strings.Contains(text, old) {
			t.Fatalf("no %s in %s", old, text)
		}
		return []byte(strings.Replace(text, old, new, 1))
	}
	gouda, _ := variety.Find("gouda")
	kind := func(old, new string) error {
		_, err := variety.Parse("v.toml", changed(gouda.Text, old, new))
		return err
	}
	cheddar, _ := holdrule.Find("us-cheddar")
	rule := func(old, new string) error {
		_, err := holdrule.Parse("r.toml", changed(cheddar.Text, old, new))
		return err
	}
	jobs := "check, weigh, taste, redress, turn, press, brush, salt, rub, wash, oil, pierce, smoke, coat, move"
	for _, c := range []struct {
		err  error
		want string
	}{
		{plan(strings.Repeat("#\n", 40000)), `p.toml: the file has 80032 bytes; at most 65536 are read`},
		{plan("# \u202e"), `p.toml line 3: character U+202E does not show; take it out`},
		{plan("job: turn"), `p.toml line 3: this isn't TOML: expected '=' after key`},
		{plan(""), `p.toml: step is missing; write [[step]] and a job below it`},
		{plan("[[step]]\n"), `p.toml line 3: job is missing; use one of ` + jobs},
		{plan("[[step]]\njob = \"trun\""), `p.toml line 4: no job "trun"; did you mean "turn"?`},
		{plan("[[step]]\njob = \"sing\""), `p.toml line 4: no job "sing"; use one of ` + jobs},
		{plan("[[step]]\njob = 3"), `p.toml line 4: job must be text in quotes`},
		{plan("step = 3"), `p.toml line 3: step is a list of tables; write [[step]] and its keys below`},
		{plan("dry = true"), `p.toml line 3: dry is a table; write [dry] and its keys below`},
		{step(`evry = "7d"`), `p.toml line 5: no key "evry"; did you mean "every"?`},
		{step(`every = "7x"`), `p.toml line 5: every "7x" is no interval; write 7d or 2w`},
		{step(`per_day = 7`), `p.toml line 5: per_day must be a whole number from 1 to 6 rounds`},
		{step(`days = "60"`), `p.toml line 5: days must be a list of whole numbers, like [60, 120]`},
		{step(`days = []`), `p.toml line 5: days is empty; fill it in or take it out`},
		{step(`days = [60, 30]`), `p.toml line 5: days must rise, and 30 comes after 60`},
		{step(`note = "\u001b"`), `p.toml line 5: note holds a character that does not show; keep it to one plain line`},
		{step(`note = "` + strings.Repeat("x", 501) + `"`), `p.toml line 5: note is 501 characters long; keep it to 500`},
		{step(strings.Repeat("[[step]]\njob = \"turn\"\n", 100)), `p.toml line 3: step is there 101 times; 100 is the most`},
		{step(`coat = "wax"`), `p.toml line 5: coat is for coat steps only, and this is a turn step`},
		{step("every = \"1d\"\nper_day = 2"),
			`p.toml line 6: a step can have only one of every, per_day, days, minutes_after; make two steps of it`},
		{step("per_day = 2\nslack = 1"), `p.toml line 6: slack can't stand beside per_day; take one of them out`},
		{step("every = \"3d\"\nslack = 3"),
			`p.toml line 6: slack of 3 days is too long for a job every 3 days; keep it under 3`},
		{step("days = [5]\nfrom_day = 9"), `p.toml line 5: day 5 is outside from_day and until_day`},
		{step(`after = "coatd"`), `p.toml line 5: no stage or job "coatd"; did you mean "coat"?`},
		{step(`after = "gone"`), `p.toml line 5: the step never opens: a wheel that is gone isn't handled`},
		{step(`until = "pressing"`), `p.toml line 5: the step never opens: every wheel begins with pressing`},
		{step("after = \"ready\"\nuntil = \"drying\""),
			`p.toml line 6: the step never opens: it begins with ready and ends with drying`},
		{step("minutes_after = 30\n[[step]]\njob = \"turn\"\nminutes_after = 60"),
			`p.toml line 8: an earlier turn step has minutes_after; put all its times in one list`},
		{step("[dry]\nmin_loss = 13"), `p.toml line 6: min_loss 13 % is not under max_loss, which is 12 %`},
		{step("[dry]\nmax_loss = 2"), `p.toml line 6: max_loss 2 % is not over min_loss, which is 2.5 %`},
		{kind(`"10kg"`, `"10t"`), `v.toml line 17: weight must be from 10g to 200000g`},
		{kind(`"10kg"`, `"1kg"`), `v.toml line 17: weight and measures make 106 kg per cubic metre; cheese has 700 to 1400`},
		{kind(`"28.5%"`, `"20%"`), `v.toml line 33: min_fat_in_solids 46 % is not under fat_in_solids, which is 35.09 %`},
		{kind("[room]", "[roof]"), `v.toml line 37: no key "roof"; did you mean "room"?`},
		{kind(`["cow", "goat"]`, `["cow", "cow"]`), `v.toml line 6: species names "cow" twice`},
		{kind(`["cow", "goat"]`, `"cow"`), `v.toml line 6: species must be a list of texts, like ["cow"]`},
		{kind("height   =", "width    ="), `v.toml line 15: a cylinder needs its height`},
		{kind("diameter =", "length = 3\ndiameter ="), `v.toml line 18: a cylinder has no length`},
		{kind(`"gouda"`, `"Gouda"`),
			`v.toml line 1: name "Gouda" is not 2 to 40 of a-z, 0-9 and dashes; write it like waxed-hard`},
		{rule(`["US"]`, `["Japan"]`),
			`r.toml line 3: no country "Japan" by its ISO code; give two letters like US, or a part of one like US-WI`},
		{rule(`["US"]`, `["us"]`), `r.toml line 3: country "us" is written in capitals: US`},
		{rule(`"35F"`, `"135F"`), `r.toml line 7: min_temp must be from -5C to 20C`},
		{rule("days      = 60\n", ""), `r.toml: the rule asks for nothing; give days, a label or both`},
		{rule("days      = 60\n", "label = \"raw\"\n"), `r.toml line 7: min_temp needs days as well`},
	} {
		if c.err == nil {
			t.Errorf("accepted, want %s", c.want)
		} else if got := (Printer{}).Sentence(reason.Of(c.err)); got != c.want {
			t.Errorf("\n got %s\nwant %s", got, c.want)
		}
	}
}
