package store

import "errors"

// RefusalsOf lists what an error of Put or AddWheels refused, in the order it
// was given; none where the error is of another sort.
func RefusalsOf(err error) []Refused {
	var many Refusals
	if errors.As(err, &many) {
		return many
	}
	var one Refused
	if errors.As(err, &one) {
		return []Refused{one}
	}
	return nil
}
