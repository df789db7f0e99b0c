package pages

import (
	"net"
	"slices"
	"testing"
)

func TestACertificateMadeHereIsForWhatThePageAnswersToAndNothingElse(t *testing.T) {
	var got []string
	for _, h := range ownHosts([]string{"Cave.example"}) {
		if net.ParseIP(h) == nil {
			got = append(got, h)
		}
	}
	if want := []string{"cave.example", "localhost"}; !slices.Equal(slices.Sorted(slices.Values(got)), want) {
		t.Errorf("its names, besides addresses, are %q, want %q", got, want)
	}
}
