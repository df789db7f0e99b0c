// Package trade answers who had what and what went into it: customers, and the
// trace of a lot one step back and one forward.
package trade

import (
	"context"
	"errors"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cmd/app"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
)

// Customer is a customer as it is in the book.
type Customer struct {
	Name    string `json:"name"`
	Contact string `json:"contact"`
	Address string `json:"address"`
	Note    string `json:"note"`
	Written string `json:"written"`
	By      string `json:"by"`
}

func customerOf(c register.Customer, zone *time.Location) Customer {
	return Customer{c.Name, c.Contact, c.Address, c.Note, app.Instant(c.Written, zone), c.By}
}

// CustomerFacts asks to put a customer in the book, or to change what is given of
// one that is there: nil leaves a fact as it is.
type CustomerFacts struct {
	Name                   string
	Contact, Address, Note *string
}

// CustomerSaved is the customer as it is in the book now.
type CustomerSaved struct {
	Schema string `json:"schema"`
	Customer
	Same bool `json:"no_change"`

	New bool `json:"-"`
}

// SaveCustomer puts a customer in the book or changes one.
func SaveCustomer(ctx context.Context, a *app.App, c app.Caller, q CustomerFacts) (app.Did[CustomerSaved], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (CustomerSaved, error) {
		old, err := s.Tx.Customer(q.Name)
		known := err == nil
		if err != nil && !app.IsNotFound(err) {
			return CustomerSaved{}, err
		}
		c := old // and its spelling
		if !known {
			c.Name = q.Name
			if c.ID, err = uuid.NewV7(); err != nil {
				return CustomerSaved{}, err
			}
		}
		c.Written, c.By = s.Time, s.Who
		for to, fact := range map[*string]*string{&c.Contact: q.Contact, &c.Address: q.Address, &c.Note: q.Note} {
			if fact != nil {
				*to = strings.TrimSpace(*fact)
			}
		}
		if err := s.Write.PutCustomer(c); err != nil {
			return CustomerSaved{}, err
		}
		c, err = s.Tx.Customer(c.Name)
		return CustomerSaved{app.Schema("customer"), customerOf(c, s.Zone), known && c == old, !known}, err
	})
}

// CustomerList is every customer of the book, by name.
type CustomerList struct {
	Schema    string     `json:"schema"`
	Customers []Customer `json:"customers"`
}

// Customers lists the customers.
func Customers(ctx context.Context, a *app.App, c app.Caller) (CustomerList, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (CustomerList, error) {
		d := CustomerList{app.Schema("customer-list"), []Customer{}}
		all, err := s.Tx.Customers()
		for _, c := range all {
			d.Customers = append(d.Customers, customerOf(c, s.Zone))
		}
		return d, err
	})
}

// CustomerShown is one customer.
type CustomerShown struct {
	Schema string `json:"schema"`
	Customer
}

// ShowCustomer finds a customer by name, in any case.
func ShowCustomer(ctx context.Context, a *app.App, c app.Caller, name string) (CustomerShown, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (CustomerShown, error) {
		c, err := s.Tx.Customer(name)
		return CustomerShown{app.Schema("customer-show"), customerOf(c, s.Zone)}, app.At("customer", err)
	})
}

// NoCustomer: nobody of that name is in the book.
type NoCustomer struct {
	Name string `json:"name"`
}

// Code implements reason.Reason.
func (NoCustomer) Code() string { return "no-customer" }

// Addressee is whom a sending goes to: the customer's own spelling where there is
// one of that name. A name that isn't in the book is taken too, and known is false;
// but one that is near a customer's is a slip, unless the writer is sure.
func Addressee(s *app.Session, name string, sure bool) (spelling string, known bool, err error) {
	c, err := s.Tx.Customer(name)
	var nf refusal.NotFound
	switch {
	case err == nil:
		return c.Name, true, nil
	case !errors.As(err, &nf):
		return "", false, err
	case len(nf.Near) > 0 && !sure:
		near := app.DidYouMean{Names: strings.Join(nf.Near, ", ")}
		return "", false, app.Unsure(NoCustomer{name}, near).In("to")
	}
	return name, false, nil
}
