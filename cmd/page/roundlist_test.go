package page

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"testing"
)

func TestTheListChosenOnAPhoneIsTheRound(t *testing.T) {
	for _, c := range []struct{ name, target, cookie, want string }{
		{"nothing chosen", "/", "", ""},
		{"a room", "/", "room=cellar", "room=cellar"},
		{"a part", "/", "share=2/3", "share=2%2F3"},
		{"it is undone", "/?rooms", "room=cellar", ""},
		{"another address", "/?room=fridge", "room=cellar", "room=fridge"},
		{"not a list", "/", "next=/account", ""},
		{"nonsense", "/", "%;%zz", ""},
	} {
		r := httptest.NewRequest("GET", "http://localhost"+c.target, nil)
		r.AddCookie(&http.Cookie{Name: chosenCookie, Value: url.QueryEscape(c.cookie)})
		if list, chosen := listOf(r); list.Encode() != c.want || chosen != (c.want != "" && c.target == "/") {
			t.Errorf("%s: %q, chosen %v", c.name, list.Encode(), chosen)
		}
	}
}
