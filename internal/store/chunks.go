package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sync"

	"github.com/duckdb/duckdb-go/v2"
)

// takeName and giveName are the functions by which rows pass between the database and Go.
const takeName, giveName = "afterfit_take", "afterfit_give"

// Chunks runs a query and hands its rows to take, some two thousand at a time, as the
// database makes them: nothing is gathered, and texts are lent, not copied. Rows come in
// no order, and take is called by one thread at a time. Numbers must be BIGINT. It is for
// millions of rows: through database/sql a value takes three to ten times as long.
//
// The rows are counted on both sides, and differing counts are an error. The first error
// of take ends the query.
func Chunks(ctx context.Context, c *sql.Conn, query string, columns []string, take func(Chunk) error) (err error) {
	t := &taker{take: take}
	list := ""
	for i, name := range columns {
		if i > 0 {
			list += ", "
		}
		list += name
	}
	var rows int64
	err = c.QueryRowContext(context.WithValue(ctx, takerKey{}, t), fmt.Sprintf("SELECT count(%s(%s)) FROM (\n%s\n)", takeName, list, query)).Scan(&rows)
	if t.err != nil {
		return t.err
	}
	if err == nil && rows != t.rows {
		err = fmt.Errorf("the database counts %d rows and handed over %d", rows, t.rows)
	}
	return err
}

type takerKey struct{}

// taker takes the chunks of one query.
type taker struct {
	mu   sync.Mutex
	take func(Chunk) error
	rows int64
	err  error
}

// errNoTaker is told where the function is called other than by Chunks.
var errNoTaker = errors.New("nobody takes these rows")

// takeFunction is the function that Chunks asks for: whoever takes the rows is in the context
// of the query.
type takeFunction struct{}

// Config implements duckdb.ScalarFunc.
func (*takeFunction) Config() duckdb.ScalarFuncConfig {
	anything, _ := duckdb.NewTypeInfo(duckdb.TYPE_ANY) // fails for nested types alone
	number, _ := duckdb.NewTypeInfo(duckdb.TYPE_INTEGER)
	return duckdb.ScalarFuncConfig{VariadicTypeInfo: anything, ResultTypeInfo: number, Volatile: true, SpecialNullHandling: true}
}

// Executor implements duckdb.ScalarFunc.
func (*takeFunction) Executor() duckdb.ScalarFuncExecutor {
	return duckdb.ScalarFuncExecutor{ChunkContextExecutor: func(ctx context.Context, s *duckdb.ChunkIteratorState) error {
		t, ok := ctx.Value(takerKey{}).(*taker)
		if !ok {
			return errNoTaker
		}
		return t.chunk(ctx, Chunk{s.GetInputChunk()})
	}}
}

// chunk hands one chunk over. What take panics with must not unwind through the database.
func (t *taker) chunk(ctx context.Context, chunk Chunk) (err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("while rows were taken: %v", p)
		}
		if t.err = errors.Join(t.err, err); t.err != nil {
			err = t.err
		}
	}()
	if err := errors.Join(t.err, ctx.Err()); err != nil {
		return err
	}
	t.rows += int64(chunk.Len())
	return t.take(chunk)
}

// Chunk is some rows of a query.
type Chunk struct{ c *duckdb.DataChunk }

// Len is how many rows there are.
func (c Chunk) Len() int { return c.c.GetSize() }

// Texts is a column of text.
func (c Chunk) Texts(column int) Texts {
	v, err := c.c.GetVector(column)
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

// At is the text of a row, "" where there is none.
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
		v, err := c.c.GetValue(column, row)
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
