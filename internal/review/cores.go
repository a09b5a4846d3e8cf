package review

import (
	"cmp"
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// onAllCores does the work of 0 .. n-1 side by side and gives the first error in that
// order. Each puts its result in a place of its own and touches nothing shared, so that
// what comes out does not hang on the number of cores. Once the context ends no more is
// begun.
func onAllCores(ctx context.Context, n int, work func(i int) error) error {
	errs := make([]error, n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				errs[i] = work(i)
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	return cmp.Or(errs...)
}

// atOnce does pieces of work that use more than one core each or wait for others, all at
// once. It returns the first error in their order.
func atOnce(ctx context.Context, work ...func() error) error {
	errs := make([]error, len(work))
	var wg sync.WaitGroup
	for i, w := range work {
		wg.Go(func() { errs[i] = w() })
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	return cmp.Or(errs...)
}

// sideBySide is onAllCores for the members of a list.
func sideBySide[T any](ctx context.Context, of []T, work func(T) error) error {
	return onAllCores(ctx, len(of), func(i int) error { return work(of[i]) })
}

// halfOfCores leaves the database half the cores until ended is called, while what goes beside
// its statements has work for the others. Two of its threads take more processor time than
// one for the same answer, too: who asks for a statement asks again and again whether it is
// done.
func (q *asker) halfOfCores(ctx context.Context) (ended func() error, err error) {
	return q.st.Bulk(ctx, max(1, runtime.GOMAXPROCS(0)/2))
}
