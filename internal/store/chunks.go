package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/duckdb/duckdb-go/v2"
)

// takeName is the function by which rows pass from the database to Go.
const takeName = "afterfit_take"

// Chunks runs a query and hands its rows to take, some two thousand at a time, as the
// database makes them: nothing is gathered, and texts are lent, not copied. Rows come in
// no order, and take is called by one thread at a time. Columns of the query are texts or
// BIGINT. It is for millions of rows: through database/sql a value takes three to ten times
// as long.
//
// The rows are counted on both sides, and differing counts are an error. The first error
// of take ends the query and is returned as it is; a panic of take is an error too.
func Chunks(ctx context.Context, c *sql.Conn, query string, columns []string, take func(Chunk) error) (err error) {
	t := &taker{ctx: ctx, take: take}
	number, done := t.known()
	defer done()
	list := strings.Join(append([]string{number}, columns...), ", ")
	var rows int64
	err = c.QueryRowContext(ctx, fmt.Sprintf("SELECT count(%s(%s)) FROM (\n%s\n)", takeName, list, query)).Scan(&rows)
	switch {
	case t.err != nil:
		return t.err
	case err == nil && rows != t.rows:
		return fmt.Errorf("the database counts %d rows and handed over %d", rows, t.rows)
	}
	return err
}

// takers are those of the queries that run, by number. A query names the number, so that it
// does not matter which of several stores opened on one file made the function known.
var (
	takers    sync.Map
	lastTaker atomic.Int64
)

// known gives a taker its number, as a query writes it, until done is called.
func (t *taker) known() (number string, done func()) {
	n := lastTaker.Add(1)
	takers.Store(n, t)
	return fmt.Sprintf("CAST(%d AS BIGINT)", n), func() { takers.Delete(n) }
}

// taker takes the chunks of one query.
type taker struct {
	ctx  context.Context //nolint:containedctx // of the query
	mu   sync.Mutex
	take func(Chunk) error
	rows int64
	err  error
}

// errNoTaker is told where the function is called other than by Chunks.
var errNoTaker = errors.New("nobody takes these rows")

// takeFunction is the function that Chunks asks for. Its first argument is the taker's number.
type takeFunction struct{}

type takerKey struct{}

// Config implements duckdb.ScalarFunc.
func (*takeFunction) Config() duckdb.ScalarFuncConfig {
	anything, _ := duckdb.NewTypeInfo(duckdb.TYPE_ANY) // fails for nested types alone
	number, _ := duckdb.NewTypeInfo(duckdb.TYPE_INTEGER)
	return duckdb.ScalarFuncConfig{VariadicTypeInfo: anything, ResultTypeInfo: number, Volatile: true, SpecialNullHandling: true}
}

// Executor implements duckdb.ScalarFunc. Whoever takes the rows is found when the statement is
// planned: threads that look with their first chunks would do so at the same time.
func (*takeFunction) Executor() duckdb.ScalarFuncExecutor {
	return duckdb.ScalarFuncExecutor{
		ScalarBinder: func(_ context.Context, args []duckdb.ScalarUDFArg) (context.Context, error) {
			if len(args) > 0 {
				if of, ok := takers.Load(args[0].Value); ok {
					t := of.(*taker)
					return context.WithValue(t.ctx, takerKey{}, t), nil
				}
			}
			return nil, errNoTaker
		},
		ChunkContextExecutor: func(ctx context.Context, s *duckdb.ChunkIteratorState) error {
			return ctx.Value(takerKey{}).(*taker).chunk(s.GetInputChunk())
		},
	}
}

// chunk hands one chunk over. What take panics with must not unwind through the database.
func (t *taker) chunk(chunk *duckdb.DataChunk) (err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.err != nil { // of another thread
		return t.err
	}
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("while rows were taken: %v", p)
		}
		t.err = err
	}()
	rows := chunk.GetSize()
	t.rows += int64(rows)
	return t.take(Chunk{chunk, rows})
}

// Chunk is some rows of a query.
type Chunk struct {
	c    *duckdb.DataChunk
	rows int
}

// Len is how many rows there are.
func (c Chunk) Len() int { return c.rows }

// Texts is a column of text.
func (c Chunk) Texts(column int) Texts {
	v, err := c.c.GetVector(column + 1) // behind the taker's number
	if err == nil {
		var view duckdb.VectorView[string]
		if view, err = duckdb.GetVectorView[string](v); err == nil {
			return Texts{view}
		}
	}
	panic(err) // a column that is not there, or not of text
}

// Texts is a column of text, lent until take returns.
type Texts struct{ view duckdb.VectorView[string] }

// At is the text of a row, "" where there is none. It is lent: what is kept is to be cloned, the
// key of a map too, also where the map has it already, as an assignment replaces the key.
func (t Texts) At(row int) string {
	text, _, err := t.view.GetValueBorrowed(row)
	if err != nil {
		panic(err) // a row that is not there
	}
	return text
}

// Ints reads a column of BIGINT into a slice that it makes longer if need be; none stands
// where there is no number.
func (c Chunk) Ints(column int, into []int64, none int64) []int64 {
	into = into[:0]
	for row := range c.Len() {
		v, err := c.c.GetValue(column+1, row)
		if err != nil {
			panic(err) // a column that is not there
		}
		n := none
		if v != nil {
			n = v.(int64)
		}
		into = append(into, n)
	}
	return into
}

// handing makes the function known to the database.
func (s *Store) handing(ctx context.Context) error {
	c, err := s.db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = c.Close() }()
	return duckdb.RegisterScalarUDF(c, takeName, &takeFunction{})
}
