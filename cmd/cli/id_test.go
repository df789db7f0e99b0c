package cli

import (
	"strings"
	"testing"
)

const sent = " --id 01a212d7-2dba-796f-b6c8-34d600000000"

func TestACommandSentTwiceUnderOneIdentityIsDoneOnce(t *testing.T) {
	for _, c := range []struct{ name, line string }{
		{"a weight", "weigh 261110A-01 2020"},
		{"a job of a shelf", "did turn drying/A/1"},
		{"a job passed over", "skip turn 261110A --why soft"},
		{"a hand check", "check 261110A-01 --dry-to-touch yes"},
		{"a coat", "coat 261110A-02 wax --before 2040 --after 2090"},
		{"a note", "wheel note 261110A-01 odd"},
		{"a make with its wheels", "make new --variety cheddar-waxed --wheels 3 --weight 2.1kg --place drying"},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t).kept()
			w.must(c.line + sent)
			wheels, log := w.must("wheel list --json"), w.must("log --json")
			var again struct {
				Schema  string
				Entries int
				Of      []string
			}
			w.doc(&again, c.line+sent)
			if again.Schema != "rindkeep/known/1" || len(again.Of) == 0 {
				t.Errorf("sent again it answers %+v", again)
			}
			same(t, "the wheels", w.must("wheel list --json"), wheels)
			same(t, "the log", w.must("log --json"), log)
			w.sound()
		})
	}
}

func TestACommandSentAgainIsKnownWhateverBecameOfItsWheels(t *testing.T) {
	w := newWorld(t).kept()
	w.must("did turn 261110A-01" + sent)
	w.must("wheel tag 261110A-01 first-of-all")
	w.must("strike last --why slip")
	w.must("wheel tag 261110A-01 first-of-all")
	w.must("wheel lost first-of-all --why dropped")
	if out := w.must("did turn 261110A-01" + sent); !strings.Contains(out,
		"this command was recorded before, for first-of-all") {
		t.Errorf("sent again it says %q", out)
	}
	w.want(exitUsage, `--id wants a UUID`, "did", "turn", "all", "--id", "seven")
}

func TestWhatWasSentUnderOneIdentityIsStruckAsOne(t *testing.T) {
	w := newWorld(t).kept()
	w.must("did turn drying/A/1" + sent)
	w.must("did turn drying/A/1 --at 07:00")
	var d struct{ Struck []struct{ Of string } }
	w.doc(&d, "strike 01a212d7-2dba-796f-b6c8-34d600000000 --why slip")
	if len(d.Struck) != 4 {
		t.Errorf("struck %+v, want the four turnings sent together", d.Struck)
	}
	w.want(exitNotFound, "no entry", "strike", "01a212d7-2dba-796f-b6c8-34d700000000", "--why", "slip")
	w.sound()
}

func TestIdentitiesThatDifferOnlyAtTheirEndAreTwo(t *testing.T) {
	w := newWorld(t).kept()
	const first, second = "01a212d7-2dba-796f-b6c8-34d61e07a3f0", "01a212d7-2dba-796f-b6c8-34d61e07a3f1"
	w.must("did turn 261110A-01 --id " + first)
	w.must("did turn 261110A-02 --at 07:00 --id " + second)
	if out := w.must("did turn 261110A-02 --at 07:00 --id " + second); !strings.Contains(out,
		"this command was recorded before, for 261110A-02") {
		t.Errorf("the second sent again says %q", out)
	}
	var d struct{ Struck []struct{ Of string } }
	w.doc(&d, "strike "+second+" --why slip")
	if len(d.Struck) != 1 || d.Struck[0].Of != "261110A-02" {
		t.Errorf("struck %+v, want what was sent under the second alone", d.Struck)
	}
}
