package sheets

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func parquet(t testing.TB, query string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "cases [1]*.parquet")
	db, err := duck(context.Background(), t.TempDir())
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	_, err = db.Exec("COPY (" + query + ") TO " + literal(path) + " (FORMAT parquet)")
	require.NoError(t, err)
	return path
}

func TestParquetBecomesText(t *testing.T) {
	g, rows := only(t, parquet(t, `SELECT 'a,"b"' AS txt, 65.50::DECIMAL(6,2) AS dec, 3.0::DOUBLE AS dbl, 100 AS int, true AS bool, DATE '2024-02-29' AS day,
	TIMESTAMP '2024-02-29 00:00:00' AS midnight, TIMESTAMP '2024-02-29 13:45:00' AS later, NULL::INTEGER AS "no thing"
	UNION ALL SELECT '007', 0.05, -0.25, NULL, false, NULL, NULL, NULL, 1`), Override{})
	assert.Equal(t, Parquet, g.Format)
	assert.Equal(t, [][]string{
		{"0", "txt", "dec", "dbl", "int", "bool", "day", "midnight", "later", "no thing"},
		{"1", `a,"b"`, "65.5", "3", "100", "true", "2024-02-29", "2024-02-29", "2024-02-29 13:45:00", ""},
		{"2", "007", "0.05", "-0.25", "", "false", "", "", "", "1"}}, rows)
	b := opened(t, parquet(t, "SELECT {'a': 1} AS nest"))
	_, err := b.Grid(context.Background(), 0, Override{})
	require.ErrorContains(t, err, "found the nested column nest")
	b = opened(t, put(t, "x.parquet", "PAR1 nothing behind it"))
	_, err = b.Grid(context.Background(), 0, Override{})
	require.ErrorContains(t, err, "x.parquet: found a Parquet file that cannot be read")
}

func TestNestedJSONBecomesSheets(t *testing.T) {
	text := `{"case_id": "K1", "age": 72, "site": {"code": "S1", "open": true}, "touches": ["ridge", "border"],
`
	text = strings.ReplaceAll(text, "\n", "") + ` "visits": [{"visit_id": "V1", "day": 25.50, "spots": [{"zone": "torus"}, {"zone": "genial", "visit_id": "own"}]}, {"visit_id": "V2"}]}` + "\n\n" +
		`{"case_id": "K2", "age": null, "note": "a, \"b\"", "visits": [], "x": 1e2}` + "\n"
	for _, path := range []string{put(t, "x.ndjson", "\ufeff"+text), put(t, "x.jsonl.gz", gzipped(t, text))} {
		b := opened(t, path)
		var names []string
		var grids [][][]string
		for i, s := range b.Sheets() {
			assert.Equal(t, NDJSON, s.Format)
			names = append(names, s.Sheet)
			g, err := b.Grid(context.Background(), i, Override{})
			require.NoError(t, err)
			grids = append(grids, cells(t, g))
		}
		assert.Equal(t, []string{"", "visits", "visits.spots"}, names)
		assert.Equal(t, [][]string{{"0", "case_id", "age", "site.code", "site.open", "touches", "note", "visits", "x"},
			{"1", "K1", "72", "S1", "true", "ridge|border", "", "", ""}, {"3", "K2", "", "", "", "", `a, "b"`, "", "100"}}, grids[0])
		assert.Equal(t, [][]string{{"0", "case_id", "visit_id", "day"}, {"1", "K1", "V1", "25.5"}, {"1", "K1", "V2", ""}}, grids[1])
		assert.Equal(t, [][]string{{"0", "case_id", "parent.visit_id", "zone", "visit_id"},
			{"1", "K1", "V1", "torus", ""}, {"1", "K1", "V1", "genial", "own"}}, grids[2], "a key never mixes with a field of the same name")
	}
}

func TestBadJSONIsRefused(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"broken":       {"{\"a\": 1}\n{\"a\": }\n", "x.ndjson:2: found a line that is no JSON object"},
		"cut off":      {"{\"a\": 1}\n{\"a\": [1,", "x.ndjson:2: found a line that is no JSON object (unexpected EOF)"},
		"two a line":   {"{\"a\": 1} {\"a\": 2}\n", "x.ndjson:1: found a line that is no JSON object (more than one value)"},
		"no object":    {"{\"a\": 1}\n12\n", "x.ndjson:2: found a line that is no JSON object (no object)"},
		"twice":        {"{\"a\": 1, \"a\": 2}\n", "x.ndjson:1: found the field \"a\" twice"},
		"deep":         {strings.Repeat(`{"a":`, 20) + "1" + strings.Repeat("}", 20), "nested more than 16 deep"},
		"a huge line":  {`{"a":"` + strings.Repeat("x", maxRecord) + `"}`, "x.ndjson:1: found a line of more than 1 MiB"},
		"many columns": {wide(maxColumns + 1), "x.ndjson:1: found more than 2000 different fields"},
	} {
		_, err := Open(context.Background(), put(t, "x.ndjson", c.text), t.TempDir())
		require.ErrorContains(t, err, c.want, name)
	}
}

func wide(n int) string {
	fields := make([]string, n)
	for i := range fields {
		fields[i] = fmt.Sprintf(`"f%d":1`, i)
	}
	return "{" + strings.Join(fields, ",") + "}"
}
