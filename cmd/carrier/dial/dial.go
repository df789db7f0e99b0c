// Package dial finds the carrier at an address.
package dial

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/folder"
	"rindkeep/cmd/carrier/jetstream"
)

// Open is the carrier at an address: a folder's path, or a URL of NATS servers. as is the site that
// puts bundles there. The error is an address that can't be one: what is away now may come back.
func Open(ctx context.Context, address string, group, as uuid.UUID) (carrier.Carrier, error) {
	switch {
	case address == "":
		return nil, carrier.Trouble{Kind: carrier.Address}
	case strings.Contains(address, "://"):
		return jetstream.Open(ctx, address, group, as)
	}
	return folder.Open(address, group), nil
}

// Prepare makes a group's place at an address. It's needed once, by the first site.
func Prepare(ctx context.Context, address string, group, as uuid.UUID) error {
	c, err := Open(ctx, address, group, as)
	if err != nil {
		return err
	}
	defer c.Close()
	return c.Prepare(ctx)
}

// Public is an address as it can be shown and handed on: without a password, and without files of
// this computer.
func Public(address string) string {
	if strings.Contains(address, "://") {
		return jetstream.Public(address)
	}
	return address
}

// Rest is the least time between two exchanges over an address: each may leave a file in a folder.
func Rest(address string) time.Duration {
	if strings.Contains(address, "://") {
		return 50 * time.Millisecond
	}
	return 10 * time.Second
}
