package store

import (
	"context"
	"database/sql"
	"fmt"
	"sync/atomic"

	"github.com/duckdb/duckdb-go/v2"
)

// Given is a table that Go holds, for a statement that reads it.
type Given struct {
	Rows    int
	Columns []GivenColumn
}

// GivenColumn is a column of it: a number for every row, which None says is NULL, or a text.
// Decimal is how many digits a DECIMAL has behind the point, of 9 in all; 0 is an INTEGER,
// or a BIGINT where Wide.
type GivenColumn struct {
	Name    string
	Int     func(row int) int64
	Text    func(row int) string
	None    int64
	Decimal uint8
	Wide    bool
}

type givenKey struct{}

// GivenRows is what a statement reads that is run by Give.
const GivenRows = giveName + "()"

// Give runs a statement that reads a table of Go's as GivenRows, and checks how many rows
// it wrote.
func Give(ctx context.Context, c *sql.Conn, statement string, g *Given) error {
	done, err := c.ExecContext(context.WithValue(ctx, givenKey{}, g), statement)
	if err != nil {
		return err
	}
	wrote, err := done.RowsAffected()
	if err == nil && wrote != int64(g.Rows) {
		err = fmt.Errorf("the database wrote %d rows of %d that were given", wrote, g.Rows)
	}
	return err
}

// giving hands a table out chunk by chunk, to several threads.
type giving struct {
	*Given
	next atomic.Int64
}

func giveFunction(ctx context.Context, _ map[string]any, _ ...any) (duckdb.ParallelChunkTableSource, error) {
	g, ok := ctx.Value(givenKey{}).(*Given)
	if !ok {
		return nil, errNoTaker
	}
	return &giving{Given: g}, nil
}

// ColumnInfos implements duckdb.ParallelChunkTableSource.
func (g *giving) ColumnInfos() []duckdb.ColumnInfo {
	infos := make([]duckdb.ColumnInfo, len(g.Columns))
	for i, c := range g.Columns {
		infos[i] = duckdb.ColumnInfo{Name: c.Name, T: c.info()}
	}
	return infos
}

func (c GivenColumn) info() (t duckdb.TypeInfo) {
	switch {
	case c.Decimal > 0:
		t, _ = duckdb.NewDecimalInfo(9, c.Decimal)
	case c.Text != nil:
		t, _ = duckdb.NewTypeInfo(duckdb.TYPE_VARCHAR)
	case c.Wide:
		t, _ = duckdb.NewTypeInfo(duckdb.TYPE_BIGINT)
	default:
		t, _ = duckdb.NewTypeInfo(duckdb.TYPE_INTEGER)
	}
	return t
}

// Cardinality implements duckdb.ParallelChunkTableSource.
func (g *giving) Cardinality() *duckdb.CardinalityInfo {
	return &duckdb.CardinalityInfo{Cardinality: uint(g.Rows), Exact: true} //nolint:gosec // not negative
}

// Init implements duckdb.ParallelChunkTableSource.
func (g *giving) Init() duckdb.ParallelTableSourceInfo { return duckdb.ParallelTableSourceInfo{} }

// NewLocalState implements duckdb.ParallelChunkTableSource.
func (g *giving) NewLocalState() any { return &struct{}{} }

// FillChunk implements duckdb.ParallelChunkTableSource.
func (g *giving) FillChunk(_ any, chunk duckdb.DataChunk) error {
	most := int64(duckdb.GetDataChunkCapacity())
	end := g.next.Add(most)
	from := end - most
	end = min(end, int64(g.Rows))
	n := int(max(0, end-from))
	for i, c := range g.Columns {
		if err := c.fill(chunk, i, int(from), n); err != nil {
			return err
		}
	}
	return chunk.SetSize(n)
}

func (c GivenColumn) fill(chunk duckdb.DataChunk, column, from, n int) (err error) {
	for row := range n {
		if c.Text != nil {
			err = duckdb.SetChunkValue(chunk, column, row, c.Text(from+row))
		} else if v := c.Int(from + row); v != c.None {
			if c.Wide {
				err = duckdb.SetChunkValue(chunk, column, row, v)
			} else {
				err = duckdb.SetChunkValue(chunk, column, row, int32(v)) //nolint:gosec // the caller's numbers
			}
		} else {
			err = duckdb.SetChunkValue[any](chunk, column, row, nil)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// handing makes both functions known to the database.
func (s *Store) handing(ctx context.Context) error {
	c, err := s.db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = c.Close() }()
	if err := duckdb.RegisterScalarUDF(c, takeName, &takeFunction{}); err != nil {
		return err
	}
	return duckdb.RegisterTableUDF(c, giveName, duckdb.ParallelChunkTableFunction{BindArgumentsContext: giveFunction})
}
