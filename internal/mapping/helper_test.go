package mapping

import (
	"context"
	"database/sql"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	_ "github.com/duckdb/duckdb-go/v2"
	"github.com/stretchr/testify/require"
)

// gridOf writes text of one line a row, its cells separated by ";", as a grid.
func gridOf(t *testing.T, file, text string) Grid {
	t.Helper()
	g := Grid{SheetID: SheetID{File: file}, Format: "csv", Path: filepath.Join(t.TempDir(), "grid.csv")}
	var rows [][]string
	for i, line := range strings.Split(strings.TrimSuffix(text, "\n"), "\n") {
		if strings.Trim(line, "; ") == "" {
			g.Blank++
			continue
		}
		cells := strings.Split(line, ";")
		g.Width = max(g.Width, len(cells))
		rows = append(rows, append([]string{strconv.Itoa(i + 1)}, cells...))
	}
	f, err := os.Create(g.Path)
	require.NoError(t, err)
	w := csv.NewWriter(f)
	for i, r := range rows {
		r = append(r, make([]string, g.Width+1-len(r))...)
		if i < 50 {
			n, err := strconv.ParseInt(r[0], 10, 64)
			require.NoError(t, err)
			g.Head = append(g.Head, Line{n, r[1:]})
		}
		require.NoError(t, w.Write(r))
	}
	w.Flush()
	require.NoError(t, w.Error())
	require.NoError(t, f.Close())
	g.Rows = int64(len(rows))
	return g
}

// conn opens a database in memory.
func conn(t *testing.T) *sql.Conn {
	t.Helper()
	db, err := sql.Open("duckdb", "")
	require.NoError(t, err)
	c, err := db.Conn(context.Background())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, c.Close()); require.NoError(t, db.Close()) })
	return c
}

// small is a whole mapping around the columns of visits; the rest is as bare as can be.
const small = `[export]
basis = "limited_data_set"
date = "dd.mm.yyyy"
decimal = ","
absent = ["dentures", "records", "readings", "trays", "sore_spots", "remakes"]
[sources.cases]
file = "cases.csv"
[sources.visits]
file = "visits.csv"
[[cases]]
from = "cases"
[cases.columns]
case_id = { column = "Nr" }
patient_key = { column = "Pat" }
site = { value = "S1" }
clinician = { value = "C1" }
records_on = { column = "Start", keep = "month" }
observed_to_day = { column = "Ende", day0 = "records" }
[[visits]]
from = "visits"
`

const smallCases = "Nr;Pat;Start;Ende\nK1;P1;01.03.2024;01.03.2025\nK2;P2;15.04.2024;31.12.2024\n"

// turnVisits runs small with the given rest of the mapping over the given visits,
// and reads the turned visits back, the line and the problem last.
func turnVisits(t *testing.T, rest, visits string) (rows [][]string, out *Turned) {
	t.Helper()
	m, err := Parse("small.toml", []byte(small+rest))
	require.NoError(t, err)
	out, err = Run(context.Background(), conn(t), m, map[string][]Grid{"cases": {gridOf(t, "cases.csv", smallCases)}, "visits": {gridOf(t, "visits.csv", visits)}}, nil, t.TempDir(), Hooks{})
	require.NoError(t, err)
	return readTable(t, out, "visits"), out
}

// readTable reads a turned table: its own columns, the line, problem and reason.
func readTable(t *testing.T, out *Turned, name string) (rows [][]string) {
	t.Helper()
	for _, tb := range out.Tables {
		if tb.Name != name {
			continue
		}
		f, err := os.Open(tb.Path)
		require.NoError(t, err)
		all, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		require.NoError(t, f.Close())
		n := len(tb.Columns)
		for _, r := range all[1:] {
			rows = append(rows, append(append([]string{}, r[:n]...), r[n+1], r[n+3], r[n+4]))
		}
	}
	return rows
}
