package round

import (
	"slices"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/store/derive"
	"rindkeep/store/refusal"
)

// AllSites asks for the lists of all sites together.
const AllSites = "all"

// siteOf reads which site's list is asked for: "" is this one's, as rooms here have no site
// before their name. any is true where nothing is to be left out: a place was named, or the
// book is one site's alone.
func siteOf(s *app.Session, asked string, place cave.Place) (site string, any bool, err error) {
	own, shared := s.Tx.Own()
	if asked == "" {
		return "", !shared || place != "", nil
	}
	names, err := s.Tx.SiteNames()
	switch {
	case err != nil || asked == AllSites:
		return "", true, err
	case asked == own.Name:
		return "", false, nil
	case slices.Contains(names, asked):
		return asked, false, nil
	}
	return "", false, app.At("site", refusal.NotFound{
		Thing: "site", Name: asked, Near: refusal.Nearest(asked, append(names, own.Name)),
	})
}

// ofSite leaves the tasks of one site; wheels without a place are at the site of their tag.
func ofSite(site string, due dues) dues {
	return func(fn func(derive.Task) bool) error {
		return due(func(t derive.Task) bool {
			at := t.Place.Site()
			if t.Place == "" {
				at, _ = cave.Sited(t.Tag)
			}
			return at != site || fn(t)
		})
	}
}

// alarmsOf leaves the alarms of one site's rooms.
func alarmsOf(site string, all []rooms.Alarm) []rooms.Alarm {
	return slices.DeleteFunc(all, func(a rooms.Alarm) bool {
		at, _ := cave.Sited(a.Room)
		return at != site
	})
}
