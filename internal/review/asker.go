package review

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"math"
	"sync"

	"afterfit/internal/stats"
	"afterfit/internal/store"
)

// Header is what a review prints but cannot know: the program's version and the
// date given by flag; and whom it tells how far it is.
type Header struct {
	Version  string
	AsOf     string
	Progress Progress // nil tells nobody
}

// Progress is told that done of total steps of a stage are behind: a few words for
// people, such as "case mix". A stage may be told of again before the next one comes.
type Progress func(stage string, done, total int)

// asker runs the questions of one review on one connection, whose temporary
// tables hold the groups in question.
type asker struct {
	c        *sql.Conn
	db       *sql.DB // that the connection is to
	st       *store.Store
	s        Settings
	sheet    bool      // outcome_sheet stands
	all      *dentures // nil until they are asked for
	watch    func(statement string) (ended func())
	progress Progress
	released []func() // called at the end
}

// newAsker links what needs linking and pins a connection; the caller closes the asker.
func newAsker(ctx context.Context, st *store.Store, s Settings) (*asker, error) {
	if err := EnsureLinked(ctx, st, s); err != nil {
		return nil, err
	}
	if err := st.SpareMemory(ctx); err != nil {
		return nil, err
	}
	c, err := st.DB().Conn(ctx)
	if err != nil {
		return nil, err
	}
	return &asker{c: c, db: st.DB(), st: st, s: s}, nil
}

// close ends a review.
func (q *asker) close() {
	for _, done := range q.released {
		done()
	}
	_ = q.c.Close() // returns it to the pool
}

// another asks the same store on a connection of its own, for questions that go beside
// others, and tells nobody how far it is. The caller ends it.
func (q *asker) another(ctx context.Context) (*asker, error) {
	c, err := q.db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	return &asker{c: c, db: q.db, st: q.st, s: q.s, all: q.all, watch: q.watch}, nil
}

// end closes the connection for good, so that its temporary tables go at once: the pool
// would keep them with it.
func (q *asker) end() {
	_ = q.c.Raw(func(any) error { return driver.ErrBadConn })
	_ = q.c.Close() // which is closed by then
}

// atStep tells how far a stage is.
func (q *asker) atStep(stage string, done, total int) {
	if q.progress != nil {
		q.progress(stage, done, total)
	}
}

// steps tells of a stage step by step, from any goroutine: call what it returns as each of
// the total ends. A stage of nothing is not told of.
func (q *asker) steps(stage string, total int) (ended func()) {
	var mu sync.Mutex
	done := 0
	if total > 0 {
		q.atStep(stage, 0, total)
	}
	return func() {
		mu.Lock()
		defer mu.Unlock()
		if done++; done < total {
			q.atStep(stage, done, total)
		}
	}
}

func (q *asker) exec(ctx context.Context, name string, args ...any) error {
	return q.execFilled(ctx, name, nil, args...)
}

// each runs a query and hands every row to scan.
func (q *asker) each(ctx context.Context, name string, scan func(*sql.Rows) error, args ...any) error {
	return q.eachFilled(ctx, name, nil, scan, args...)
}

// groupKey is one value of one dimension.
type groupKey struct{ dimension, code string }

// tooFew is the sentence for fewer dentures than the setting, "" otherwise.
func (q *asker) tooFew(n int64) string {
	if n >= q.s.MinDentures {
		return ""
	}
	return fmt.Sprintf("Too few to tell: %d followed, %d or more are needed.", n, q.s.MinDentures)
}

// share is a percentage with its Wilson interval.
func (q *asker) share(k, n int64, unit, query string) (Estimate, error) {
	e := Estimate{Value: Num(math.NaN()), Low: Num(math.NaN()), High: Num(math.NaN()), Level: q.s.Level, N: n, Events: k, Unit: unit, Method: "Wilson", Query: query}
	if e.TooFew = q.tooFew(n); n == 0 {
		return e, nil
	}
	iv, err := stats.Wilson(k, n, q.s.Level)
	if err != nil {
		return e, err
	}
	e.Value, e.Low, e.High = Num(100*float64(k)/float64(n)), Num(100*iv.Low), Num(100*iv.High)
	e.Warnings = cautions(stats.WilsonWarnings(k, n))
	return e, nil
}
