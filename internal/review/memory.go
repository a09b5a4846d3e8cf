package review

import "runtime/debug"

// bytesOfDenture is about what a denture takes in memory; growthHeld is how much may be
// allocated beside the dentures before the garbage collector comes.
const bytesOfDenture, growthHeld = 160, 300_000_000

// holdGrowth makes the garbage collector come before memory has grown by more than
// growthHeld beside so many dentures, until done is called. It otherwise lets memory grow by
// a part of what is held, which with many dentures is large, and columns of numbers cost it
// nothing to look through, so that coming often is cheap.
func holdGrowth(dentures int64) (done func()) {
	percent := growthHeld * 100 / max(1, bytesOfDenture*dentures)
	had := debug.SetGCPercent(int(max(5, min(percent, 100))))
	if had >= 0 && int64(had) > percent {
		return func() { debug.SetGCPercent(had) }
	}
	debug.SetGCPercent(had) // which comes as often, or was turned off on purpose
	return func() {}
}
