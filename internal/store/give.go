package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"runtime"
	"strings"
	"sync/atomic"

	"github.com/duckdb/duckdb-go/v2"
)

// Given is a table that Go holds, for a statement that reads it. Several threads of the
// database ask for its values at the same time, in no order.
type Given struct {
	Rows    int
	Columns []GivenColumn
}

// GivenColumn is a column of it: a number for every row, which None says is NULL, or a text.
// Decimal is how many digits a DECIMAL has behind the point, of 9 in all, whose number is
// given without the point; 0 is an INTEGER, or a BIGINT where Wide. A number that its column
// cannot hold is an error.
type GivenColumn struct {
	Name    string
	Int     func(row int) int64
	Text    func(row int) string
	None    int64
	Decimal uint8
	Wide    bool
}

// errNoGiver is told where the function is read other than by Give.
var errNoGiver = errors.New("nobody gives these rows")

// GivenRows is what a statement reads that is run by Give, which puts the table's number in.
const GivenRows = giveName + "()"

// Give runs an INSERT of all rows of a table of Go's, which it reads as GivenRows, and checks
// how many it wrote. (Of a CREATE TABLE AS the driver does not tell how many.)
func Give(ctx context.Context, c *sql.Conn, statement string, g *Given) error {
	number, done := handOver(g)
	defer done()
	written, err := c.ExecContext(ctx, strings.ReplaceAll(statement, GivenRows, giveName+"("+number+")"))
	if err != nil {
		return err
	}
	wrote, err := written.RowsAffected()
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

// giveFunction is the function that Give asks for. Its argument is the table's number.
func giveFunction(_ map[string]any, number ...any) (duckdb.ParallelChunkTableSource, error) {
	of, _ := handed.Load(number[0])
	if g, ok := of.(*Given); ok {
		return &giving{Given: g}, nil
	}
	return nil, errNoGiver
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

// Init implements duckdb.ParallelChunkTableSource. Several threads fill chunks where rows need
// not keep their order (Unordered): on two, rows are written in a half of the time.
func (g *giving) Init() duckdb.ParallelTableSourceInfo {
	return duckdb.ParallelTableSourceInfo{MaxThreads: runtime.GOMAXPROCS(0)}
}

// NewLocalState implements duckdb.ParallelChunkTableSource.
func (g *giving) NewLocalState() any { return &struct{}{} }

// FillChunk implements duckdb.ParallelChunkTableSource. A panic must not unwind through the
// database.
func (g *giving) FillChunk(_ any, chunk duckdb.DataChunk) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("while rows were given: %v", p)
		}
	}()
	most := int64(duckdb.GetDataChunkCapacity())
	end := g.next.Add(most)
	from := end - most
	end = min(end, int64(g.Rows))
	n := int(max(0, end-from))
	for i, c := range g.Columns {
		if err := c.fill(chunk, i, int(from), n); err != nil {
			return fmt.Errorf("column %s: %w", c.Name, err)
		}
	}
	return chunk.SetSize(n)
}

func (c GivenColumn) fill(chunk duckdb.DataChunk, column, from, n int) (err error) {
	if c.Text != nil {
		for row := range n {
			if err := duckdb.SetChunkValue(chunk, column, row, c.Text(from+row)); err != nil {
				return err
			}
		}
		return nil
	}
	least, most := c.limits()
	for row := range n {
		switch v := c.Int(from + row); {
		case v == c.None:
			err = duckdb.SetChunkValue[any](chunk, column, row, nil)
		case v < least || v > most:
			err = fmt.Errorf("row %d: %d does not fit", from+row, v)
		case c.Wide:
			err = duckdb.SetChunkValue(chunk, column, row, v)
		default:
			err = duckdb.SetChunkValue(chunk, column, row, int32(v)) //nolint:gosec // within the limits
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// limits are the least and the greatest number that the column can hold.
func (c GivenColumn) limits() (least, most int64) {
	switch {
	case c.Decimal > 0:
		return -999_999_999, 999_999_999
	case c.Wide:
		return math.MinInt64, math.MaxInt64
	}
	return math.MinInt32, math.MaxInt32
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
	number, err := duckdb.NewTypeInfo(duckdb.TYPE_BIGINT)
	if err != nil {
		return err
	}
	return duckdb.RegisterTableUDF(c, giveName, duckdb.ParallelChunkTableFunction{Config: duckdb.TableFunctionConfig{Arguments: []duckdb.TypeInfo{number}}, BindArguments: giveFunction})
}
