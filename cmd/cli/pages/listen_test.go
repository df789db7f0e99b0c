package pages

import (
	"net"
	"slices"
	"testing"
)

func TestACertificateMadeHereIsForWhatThePageAnswersToAndNothingElse(t *testing.T) {
	at := &net.TCPAddr{IP: net.ParseIP("192.0.2.5"), Port: 4870}
	want := []string{"127.0.0.1", "192.0.2.5", "::1", "cave.example", "localhost"}
	if got := ownHosts([]string{"Cave.example"}, at); !slices.Equal(slices.Sorted(slices.Values(got)), want) {
		t.Errorf("it's for %q, want %q", got, want)
	}
	at.IP = net.IPv6zero // every address of this machine
	for _, h := range ownHosts(nil, at) {
		own := slices.ContainsFunc(addresses(), func(ip net.IP) bool { return ip.String() == h })
		if !own && !slices.Contains([]string{"127.0.0.1", "::1", "localhost"}, h) {
			t.Errorf("it's for %s, which isn't this machine", h)
		}
	}
}
