// Package dial finds the carrier at an address.
package dial

import (
	"context"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/folder"
)

// Open is the carrier at an address: a folder's path. as is the site that puts bundles there.
func Open(_ context.Context, address string, group, as uuid.UUID) (carrier.Carrier, error) {
	if err := check(address); err != nil {
		return nil, err
	}
	return folder.Open(address, group), nil
}

// Prepare makes a group's place at an address. It's needed once, by the first site.
func Prepare(_ context.Context, address string, group uuid.UUID) error {
	if err := check(address); err != nil {
		return err
	}
	return folder.Open(address, group).Prepare()
}

func check(address string) error {
	if address == "" || strings.Contains(address, "://") {
		return carrier.Trouble{Kind: carrier.Address, Place: address}
	}
	return nil
}
