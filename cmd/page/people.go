package page

import (
	"context"
	"net/http"
)

// Role is what a person may do on the page.
type Role string

// The roles: a writer does the round and all else; a reader, a visitor or an
// inspector, looks and changes nothing; a device posts what it measures.
const (
	Writer Role = "writer"
	Reader Role = "reader"
	Device Role = "device"
)

// Person is who a request comes from. On loopback without a password it is
// nobody in particular, who may write.
type Person struct {
	Name string
	Role Role
}

type personKey struct{}

// personOf is who the request comes from.
func personOf(r *http.Request) Person {
	p, ok := r.Context().Value(personKey{}).(Person)
	if !ok {
		return Person{Role: Writer}
	}
	return p
}

// asPerson is the request as that person's.
func asPerson(r *http.Request, p Person) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), personKey{}, p))
}
