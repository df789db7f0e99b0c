package schedule

import (
	"regexp"
	"strings"
	"testing"

	"rindkeep/wheel/variety"
)

// The libraries may name the works of works as sources. A law or standard is cited from
// memory, or with the edition that was read and when.
var (
	works = regexp.MustCompile(`Univ\. of Guelph|Van Slyke and Publow|Thom and Fisk 1918`)
	laws  = regexp.MustCompile(`CFR|CXS|Regulation`)
	dated = regexp.MustCompile(`\(from memory\)|\([^()]*edition[^()]*, read \d{4}-\d\d-\d\d\)`)
	read  = regexp.MustCompile(`\bread\b( \d{4}-\d\d-\d\d)?`)
)

func sourced(text string) bool {
	for _, r := range read.FindAllString(text, -1) {
		if r == "read" {
			return false
		}
	}
	if laws.MatchString(text) {
		return dated.MatchString(text)
	}
	return marked.MatchString(text) || works.MatchString(text)
}

func TestEveryFigureInTheLibrariesHasItsSource(t *testing.T) {
	for _, v := range variety.Builtin() {
		for _, s := range []string{v.Source, v.Composition.Source, v.Limits.Source, v.Room.Source} {
			for _, part := range strings.Split(s, ";") {
				if !sourced(part) {
					t.Errorf("%s: %q names no source", v.Name, part)
				}
			}
		}
	}
	// In a plan a comment speaks for all steps up to the next, and each names a source.
	const general = " Slack and minutes: our default, no source."
	for _, p := range Builtin() {
		if !strings.Contains(p.Text, "#"+general) {
			t.Errorf("%s: no comment says where its minutes are from", p.Name)
		}
		block, last := "", ""
		for _, line := range strings.Split(p.Text, "\n") {
			if text, ok := strings.CutPrefix(line, "#"); ok {
				block += text
				continue
			}
			if block != "" {
				if !sourced(block) {
					t.Errorf("%s: %q names no source", p.Name, block)
				}
				last, block = block, ""
			}
			if strings.HasPrefix(line, "[") && (last == "" || last == general) {
				t.Errorf("%s: no comment says where the figures of its first %s are from", p.Name, line)
			}
		}
	}
	for _, wrong := range []string{"", "usual", "common practice", "our default (read)", "from memory, read in a handbook",
		"21 CFR 133.113", "21 CFR 133.113 (read 2026-11-28)", "Codex CXS 263, our default"} {
		if sourced(wrong) {
			t.Errorf("%q passes for a source", wrong)
		}
	}
}
