package intake

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/privacy"
	"afterfit/internal/store"
)

// TestSmallTablesAreScreenedAsLargeOnes: the one statement for all columns of a small
// table finds what a statement for each column finds, for the same cells.
func TestSmallTablesAreScreenedAsLargeOnes(t *testing.T) {
	texts := []string{"", "Anna Berger", "Dr. Otto Klein", "12.03.1951", "1951-03-12", "2024", "+49 170 1234567", "0170/1234567", "anna@example.org", "A123", "K00017", "943 476 5919", "72", "103", "ÄÖü ß", "yes", "no", "none",
		"a long remark that somebody wrote about the patient and her daughter", "192.168.2.1", "12345", "12345-6789", "\u00a0", "🦷", "S1"}
	names := []string{"Patient", "Name", "DOB", "Phone", "Site", "Age", "Postcode", "Remarks"}
	r := rand.New(rand.NewPCG(7, 1)) //nolint:gosec // no secret
	cols, decl := make([]screened, len(names)), make([]string, len(names))
	for i, name := range names {
		decl[i] = fmt.Sprintf("c%d VARCHAR", i)
		cols[i] = screened{privacy.Column{Table: "t", File: "t.csv", Name: name}, fmt.Sprintf("r.c%d", i)}
	}
	st, err := store.Scratch(context.Background(), store.Options{Threads: 1})
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	require.NoError(t, st.Tx(context.Background(), func(ctx context.Context, c *sql.Conn) error {
		some := 0
		for round := range 8 {
			q := fmt.Sprintf("CREATE OR REPLACE TEMP TABLE t (%s); INSERT INTO temp.t VALUES ", strings.Join(decl, ", "))
			for row := range 60 {
				cells := make([]string, len(names))
				for i := range cells {
					cells[i] = "NULL"
					if r.IntN(6) > 0 { // few kinds of text to a column, so that some stay clean
						cells[i] = store.Quote(texts[(3*i+5*round+r.IntN(3))%len(texts)])
					}
				}
				q += strings.Repeat(", ", min(row, 1)) + "(" + strings.Join(cells, ", ") + ")"
			}
			_, err := exec(ctx, c, q)
			require.NoError(t, err)
			small, err := screenAll(ctx, c, privacy.Unstated, "temp.t", smallTable, cols)
			require.NoError(t, err)
			large, err := screenAll(ctx, c, privacy.Unstated, "temp.t", smallTable+1, cols)
			require.NoError(t, err)
			for i := range cols {
				assert.ElementsMatch(t, large[i], small[i], names[i])
				some += len(small[i])
			}
		}
		assert.Greater(t, some, 30, "there was something to be found")
		return nil
	}))
}
