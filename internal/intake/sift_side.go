package intake

import (
	"context"
	"database/sql"
	"runtime"
	"runtime/debug"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"
)

// siftAll looks every table through, and sets apart what is to be judged.
func (l *loader) siftAll(ctx context.Context, c *sql.Conn) error {
	l.sieve = newSieve()
	total := int64(0)
	var there []*stage
	for _, g := range l.stages {
		if g.sheet == nil {
			continue
		}
		there, total = append(there, g), total+g.sheet.Records
		if err := g.asText(ctx, c, l.scratch); err != nil {
			return err
		}
	}
	var mu sync.Mutex // of progress, which tells of one thing at a time
	done := int64(0)
	err := parentsFirst(ctx, there, runtime.GOMAXPROCS(0), func(ctx context.Context, g *stage) error {
		return l.sieve.sift(ctx, g.t, g.sheet, func(more int64) {
			mu.Lock()
			defer mu.Unlock()
			done += more
			l.opt.Progress.at("looking", done, total)
		})
	})
	if err != nil {
		return err
	}
	for _, g := range there {
		if err := g.sheet.split(ctx, l.scratch); err != nil {
			return err
		}
		if g == l.stages[0] && !l.direct {
			if err := l.markTaken(ctx, c); err != nil {
				return err
			}
		}
	}
	l.sieve.keepSums()
	l.giveBack()
	return nil
}

// giveBack gives memory that a large export's look-through took back to the system, before
// the database needs it. Of a small one that is not worth the time.
func (l *loader) giveBack() {
	const large = 5_000_000
	rows := int64(0)
	for _, g := range l.stages {
		if g.sheet != nil {
			rows += g.sheet.Records
		}
	}
	if rows >= large {
		debug.FreeOSMemory()
	}
}

// parentsFirst looks at tables with so many workers, each table after its parent. Of those
// that can be looked at the one goes first that most rows hang on: the last table ends
// alone. The first error ends it.
func parentsFirst(ctx context.Context, tables []*stage, workers int, look func(context.Context, *stage) error) error {
	all, ctx := errgroup.WithContext(ctx)
	var mu sync.Mutex
	ended := sync.NewCond(&mu)
	waiting, failed := slices.Clone(tables), false
	slices.SortStableFunc(waiting, func(a, b *stage) int { return int(b.hanging(tables) - a.hanging(tables)) })
	under := map[string]bool{} // not looked at to the end
	for _, g := range tables {
		under[g.t.Name] = true
	}
	next := func() *stage {
		mu.Lock()
		defer mu.Unlock()
		for len(waiting) > 0 && !failed {
			if i := slices.IndexFunc(waiting, func(g *stage) bool { return !under[g.t.Parent] }); i >= 0 {
				g := waiting[i]
				waiting = slices.Delete(waiting, i, i+1)
				return g
			}
			ended.Wait()
		}
		return nil
	}
	for range min(workers, len(tables)) {
		all.Go(func() error {
			for g := next(); g != nil; g = next() {
				err := look(ctx, g)
				mu.Lock()
				under[g.t.Name], failed = false, failed || err != nil
				ended.Broadcast()
				mu.Unlock()
				if err != nil {
					return err
				}
			}
			return nil
		})
	}
	return all.Wait()
}

// hanging is how many rows must be looked at one after the other from this table on.
func (g *stage) hanging(tables []*stage) int64 {
	most := int64(0)
	for _, child := range tables {
		if child.t.Parent == g.t.Name {
			most = max(most, child.hanging(tables))
		}
	}
	return most + g.sheet.Records
}
