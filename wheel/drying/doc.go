// Package drying says how a cheese loses water to its room: before any weight
// is known by physics alone, after that by the wheel's own weights, always with
// a 90 % interval.
//
// Losses are fractions of green weight, chain-linked by the caller so that
// cores and coats do not count as drying. Days are counted from the start of
// drying and may be fractional. Rates are fractions of green weight per day.
//
// A wheel's own curve is the physics of its room, shape and composition with
// two multipliers: one on the air side (how fast a wet surface gives water off)
// and one on the inside (how fast water comes to the surface). Their logs have
// a normal prior; sister wheels narrow it through Pool, weights through
// Estimate. A coat has a third figure, the share of the bare loss that it
// passes, which the weights after the coat tell.
//
// The package does no input or output, reads no clock and knows no variety by
// name: what a gate asks for and what is advised is decided elsewhere.
package drying

// Model is the number of the model: raise it whenever a forecast comes out otherwise from
// the same subject, so that outlooks that were kept are worked out again.
const Model = "8"
