// Package volume solves the drying of a solid by finite volumes in its true
// geometry: a cylinder in radius and height, a block in its three lengths, a
// sphere in its radius. It is the project's own truth for the quicker models,
// and what they fall back on where they cannot go.
//
// What is solved is dX/dt = div(D grad X) for the dry-basis water content X (kg
// of water per kg of dry solids, the solids staying where they are), with a
// surface law that gives the water leaving as a velocity: flux of water over
// the dry solids per volume, X m/s. Lengths are metres, times seconds, D m2/s.
//
// By symmetry a half is solved: every face of the solid dries alike, as on a
// shelf where the wheel is turned.
//
// The package knows nothing of cheese, air or sorption: a Surface brings them.
package volume
