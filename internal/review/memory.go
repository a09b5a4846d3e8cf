package review

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
)

// bytesOfDenture is about what a denture takes in memory; growthHeld is how much may be
// allocated beside the dentures before the garbage collector comes.
const bytesOfDenture, growthHeld = 180, 300_000_000

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

// blocksKept is how many bytes the database may keep when statements are done.
const blocksKept = 32_000_000

// letGo frees the blocks of the store's file that the database has in memory, but for so many
// bytes, when a review has asked its last statement and goes on in memory. The limit stands again
// at once. A database that cannot free so much keeps what it has, which is no fault, and one in
// memory has nowhere else to keep it.
func (q *asker) letGo(ctx context.Context, keep int64) error {
	if q.st.Path() == "" {
		return nil
	}
	had, err := q.st.Memory(ctx)
	if err != nil || had <= keep {
		return err
	}
	_, _ = q.c.ExecContext(ctx, fmt.Sprintf("SET memory_limit='%dB'", keep))
	_, err = q.c.ExecContext(context.WithoutCancel(ctx), fmt.Sprintf("SET memory_limit='%dB'", had))
	return errors.Join(err, ctx.Err())
}
