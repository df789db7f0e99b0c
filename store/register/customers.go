package register

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// Customer is somebody wheels go to: what it takes to reach them. Entries name
// a customer by Name; a name that no Customer has is as good, but nobody
// knows where they are.
type Customer struct {
	ID      uuid.UUID `json:"id"`
	Name    string    `json:"name"`
	Contact string    `json:"contact,omitempty"` // telephone, mail, a person
	Address string    `json:"address,omitempty"`
	Note    string    `json:"note,omitempty"`
	Written time.Time `json:"written"`
	By      string    `json:"by,omitempty"`
}

// Check says what is wrong with the customer.
func (c Customer) Check() error {
	if err := cave.CheckName("customer", c.Name); err != nil {
		return err
	}
	for _, text := range []string{c.Contact, c.Address, c.Note} {
		if err := wheel.CheckNote(text); err != nil {
			return err
		}
	}
	return checkWritten(c.ID, c.Written, c.By)
}

// Key is the key of its record.
func (c Customer) Key() []byte { return layout.Fold(c.Name) }

// PutCustomer adds a customer, or changes the one of that name, in any case.
// The same facts again change nothing, no matter who writes them.
func (t *Writer) PutCustomer(c Customer) error {
	c.Written = pack.Milli(c.Written)
	if err := c.Check(); err != nil {
		return refusal.Refused{Cause: err}
	}
	old, err := t.read.Customer(c.Name)
	if err == nil {
		same := c
		same.ID, same.Written, same.By = old.ID, old.Written, old.By
		if same == old {
			return nil
		}
		c.ID = old.ID
	} else if !refusal.IsNotFound(err) {
		return err
	}
	_, err = table.PutRecord(t.tab, layout.Customers, c.Key(), c)
	return err
}

// Customer gives a customer by name, in any case. The error may be a NotFound
// with names that may have been meant.
func (t *Reader) Customer(name string) (Customer, error) {
	c, ok, err := table.Record[Customer](t.tab, layout.Customers, layout.Fold(name), "customer")
	if ok || err != nil {
		return c, err
	}
	all, err := t.Customers()
	if err != nil {
		return c, err
	}
	names := make([]string, len(all))
	for i, x := range all {
		names[i] = x.Name
	}
	near := refusal.Nearest(name, names)
	if len(near) == 0 {
		near = refusal.Holding(name, names)
	}
	return c, refusal.NotFound{Thing: "customer", Name: name, Near: near}
}

// Customers lists the customers by name.
func (t *Reader) Customers() ([]Customer, error) {
	out, err := table.List[Customer](t.tab, layout.Customers, "customer")
	slices.SortFunc(out, func(a, b Customer) int {
		return cave.NaturalCompare(strings.ToLower(a.Name), strings.ToLower(b.Name))
	})
	return out, err
}
