package intake

import (
	"context"
	"runtime"
	"sync"
)

// readAhead gives a way to read the tables of a source. Those of a folder of CSV files are
// read several at once from now on, each of them is one file; done waits for the readings
// that nobody asked for.
func readAhead(ctx context.Context, src Source, scratch string) (read func(table string) (*Sheet, error), done func()) {
	if _, apart := src.(*folder); !apart {
		return func(table string) (*Sheet, error) { return src.Read(ctx, table, scratch) }, func() {}
	}
	type reading struct {
		ended chan struct{}
		sheet *Sheet
		err   error
	}
	ctx, cancel := context.WithCancel(ctx)
	by, tables := map[string]*reading{}, src.Tables()
	next := make(chan string, len(tables)) // in the order in which they are asked for
	for _, table := range tables {
		by[table] = &reading{ended: make(chan struct{})}
		next <- table
	}
	close(next)
	var all sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(tables)) {
		all.Go(func() {
			for table := range next {
				r := by[table]
				r.sheet, r.err = src.Read(ctx, table, scratch)
				close(r.ended)
			}
		})
	}
	read = func(table string) (*Sheet, error) {
		r := by[table]
		<-r.ended
		return r.sheet, r.err
	}
	return read, func() { cancel(); all.Wait() }
}
