//go:build slow

package review

// How many chance sequences of loads are followed, and how long each is.
const followSeeds, followSteps = uint64(3), 14
