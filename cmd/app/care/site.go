package care

import (
	"cmp"
	"context"
	"strings"

	"rindkeep/cmd/app"
)

// SiteFacts asks where the book's cheese is kept, or sets what is given of it: nil leaves
// a fact as it is. Without any it is a question.
type SiteFacts struct {
	Name, Address, Contact *string
	LotCode                string // own or maker: whose code bought-in cheese leaves under; "": as it was
	Dates                  string // day-first or month-first: dates such as 5/6/2026; "": as it was
	Note                   string
}

// Site is where the book's cheese is kept.
type Site struct {
	Schema  string     `json:"schema"`
	Name    string     `json:"name"`
	Address string     `json:"address"`
	Contact string     `json:"contact"`
	LotCode string     `json:"lot_code"` // own, maker, "" where nobody has said
	Dates   string     `json:"dates"`    // day-first, month-first; "": as the countries it follows write them
	Changed bool       `json:"changed"`
	History []SiteLine `json:"history"`
}

// SiteLine is what was written of the site from an instant on.
type SiteLine struct {
	Name    string `json:"name"`
	Address string `json:"address"`
	Contact string `json:"contact"`
	LotCode string `json:"lot_code"`
	Dates   string `json:"dates"`
	From    string `json:"from"`
	By      string `json:"by"`
	Note    string `json:"note"`
}

// WhichSite answers or changes where the book's cheese is kept, and whose lot code goes
// on what was bought in.
func WhichSite(ctx context.Context, a *app.App, c app.Caller, q SiteFacts) (d app.Did[Site], err error) {
	if q.Name == nil && q.Address == nil && q.Contact == nil && q.LotCode == "" && q.Dates == "" {
		d.Result, err = app.Ask(ctx, a, c, func(s *app.Session) (Site, error) { return siteOf(s, false) })
		return d, err
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Site, error) {
		site, err := s.Tx.Site()
		if err != nil {
			return Site{}, err
		}
		site.ID, site.Written, site.By, site.Note = s.NextID(), s.Time, s.Who, q.Note
		for to, given := range map[*string]*string{
			&site.Name: q.Name, &site.Address: q.Address, &site.Contact: q.Contact,
		} {
			if given != nil {
				*to = strings.TrimSpace(*given)
			}
		}
		site.LotCode = cmp.Or(q.LotCode, site.LotCode)
		site.Dates = cmp.Or(q.Dates, site.Dates)
		changed, err := s.Write.PutSite(site)
		if err != nil {
			return Site{}, err
		}
		return siteOf(s, changed)
	})
}

func siteOf(s *app.Session, changed bool) (Site, error) {
	d := Site{Schema: app.Schema("book-site"), Changed: changed, History: []SiteLine{}}
	all, err := s.Tx.Sites()
	for _, x := range all {
		d.Name, d.Address, d.Contact, d.LotCode, d.Dates = x.Name, x.Address, x.Contact, x.LotCode, x.Dates
		d.History = append(d.History, SiteLine{
			x.Name, x.Address, x.Contact, x.LotCode, x.Dates, app.Instant(x.Written, s.Zone), x.By, x.Note,
		})
	}
	return d, err
}
