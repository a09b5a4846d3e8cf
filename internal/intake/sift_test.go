package intake

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
	"afterfit/internal/store"
)

// oddCells are cells near the edge of what the rules take, on both sides of it.
var oddCells = []string{"", " ", "-", "0", "-0", "00", "007", "1", "+1", " 1", "1 ", "1.0", "01", "-1", "-5", "-5.01", "4", "5", "9", "10", "99", "100", "130", "131", "480", "481", "1e2", "0x1F", "1_0",
	"20", "20.00", "20.01", "20.001", "15", "15.1", "30", "29.99", "110", "110.0", "110.01", "40", "40.5", ".5", "5.", "-.5", "--5", "1,5", "999999", "1000000", "36525", "36526", "nan", "Infinity", "NULL",
	"2024", "1899", "2100", "2024-Q1", "2024-Q5", "2024-q1", "2024-00", "2024-13", "2024-12", "2024-02-29", "2023-02-29", "2024-02-30", "2024-2-1", "2024-01-01 ", "2024-01-32", "2000-02-29", "1900-02-29",
	"yes", "no", "Yes", "none", "none|sore", "sore|loose", "sore|sore", "sore|", "|sore", "|", "ridge|border", "upper", "lower", "UPPER", "both", "<50", "50-59", "90+", "90 +", "male", "small", "vdr", "lip",
	"tuberosity", "retromolar_pad", "torus", "a b", "a\"b", "\"\"", "\"", "a,b", "a\nb", "a\r\nb", "a\rb", "a\tb", "a\x01b", "a\x7fb", "ä", "Kä1", "äK1", "K1ä", "\u00a0K1", "K1\u3000", "\u200b", "٣", "１２", "🦷", "%d",
	"K1", "V1", "X1", "x1", "C1", "X00001", strings.Repeat("y", 200), strings.Repeat("y", 201), strings.Repeat("é", 150) + "y"}

// oddBundle puts every odd cell into every column of every table, each into a row of its
// own that is sound otherwise. Shift moves them among the cases. A step above 1 puts only
// every so-manieth cell into a column, others into the next.
func oddBundle(t *testing.T, shift, step int) map[string]string {
	t.Helper()
	rows := len(oddCells)/step + 1
	files := map[string]string{noteFile: "basis = \"consented_local\"\ninvented = true\n"}
	for _, tb := range bundle.Tables {
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		require.NoError(t, w.Write(tb.Names()))
		n := 15 * rows
		if tb.Parent == "" || tb.Name == "visits" { // others hang on sound rows
			for i := range n {
				require.NoError(t, w.Write(soundCells(tb, fmt.Sprintf("X%05d", i))))
			}
		}
		for i := range tb.Columns {
			for at := i % step; at < len(oddCells); at += step {
				odd, j := oddCells[at], at/step
				cells := soundCells(tb, fmt.Sprintf("X%05d", (i*rows+j*7+shift)%n))
				if tb.Parent == "" || tb.Name == "visits" {
					cells = soundCells(tb, fmt.Sprintf("Y%05d", i*rows+j))
				}
				if tb.Name == "visits" {
					cells[1] = fmt.Sprintf("X%05d", (j*7+shift)%n)
				}
				cells[i] = odd
				require.NoError(t, w.Write(cells))
			}
		}
		w.Flush()
		require.NoError(t, w.Error())
		files[tb.Name+".csv"] = b.String()
	}
	return files
}

// soundCells is a sound row, every cell filled.
func soundCells(t bundle.Table, of string) []string {
	cells := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		switch {
		case c.Name == "case_id" || c.Name == "patient_key" || c.Name == "visit_id":
			cells[i] = of
		case c.Name == "remake_of":
		case c.Name == "zone":
			cells[i] = "labial_sulcus"
		case c.Kind == bundle.Code || c.Kind == bundle.Codes || c.Kind == bundle.AgeBand:
			cells[i] = c.Codes[0]
		case c.Kind == bundle.Period:
			cells[i] = "2024-03"
		case c.Name == "value_mm" || c.Hard != nil && c.Hard.Min == 30:
			cells[i] = "60.5"
		case c.Kind == bundle.Length:
			cells[i] = "3.25"
		case c.Kind == bundle.Int || c.Kind == bundle.Day:
			cells[i] = "3"
		default:
			cells[i] = "S1"
		}
	}
	return cells
}

// TestSoundLists holds lists of codes to what the contract lets through, each as the first
// cell of its column: nothing was seen before it.
func TestSoundLists(t *testing.T) {
	visits, ok := bundle.Find("visits")
	require.True(t, ok)
	complaints, ok := visits.Column("complaints")
	require.True(t, ok)
	for cell, want := range map[string]bool{"sore": true, "sore|loose": true, "none": true,
		"|": false, "|sore": false, "sore|": false, "sore||loose": false, "||": false, "none|sore": false, "sore|none": false, "sore|sore": false, "sore|sour": false, "Sore": false} {
		got, _ := soundCodes(complaints)([]byte(cell))
		assert.Equal(t, want, got, "%q", cell)
	}
}

// ledger is all rows of a store, sorted, but for the moment of loading.
func ledger(t *testing.T, st *store.Store) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	names := []string{"loads", "balance", "set_aside", "flags", "load_notes", "load_files", "load_rows", "load_needs", "seen", "corrected", "cleared"}
	for _, tb := range bundle.Tables {
		names = append(names, tb.Name, store.History+"."+tb.Name)
	}
	for _, name := range names {
		all[name] = column(t, st, "SELECT x::VARCHAR FROM "+name+" x ORDER BY ALL")
	}
	return all
}

// TestSoundRowsAreThoseThatTheRulesLetThrough loads exports with rows sound for certain
// taken straight, and with every row judged by the rules: into an empty store, over an
// older export, with a foreign visit in the way, and the same again. All must be the same.
func TestSoundRowsAreThoseThatTheRulesLetThrough(t *testing.T) { soundRows(t, 8) }

func soundRows(t *testing.T, step int) {
	ctx := context.Background()
	later := oddBundle(t, 50, step)
	later["visits.csv"] += "V1,X00001,3,upper,planned,yes,3,none,yes\n"
	complete := maps.Clone(small)
	complete[noteFile] = "basis = \"consented_local\"\ncomplete = true\n"
	person := with(t, "cases.csv", "S1", "Dr Anna Berger")
	orphan := with(t, "dentures.csv", "K1,upper", "Anna Berger,upper")
	exports := []map[string]string{person, orphan, oddBundle(t, 0, step), small, person, later, complete, later}
	refused := 0
	a, b := newStore(t), newStore(t)
	for i, files := range exports {
		dir := write(t, files)
		fast, err := Load(ctx, a, dir, LoadOptions{SetAsideLimit: 1})
		slow, slowErr := Load(ctx, b, dir, LoadOptions{SetAsideLimit: 1, judgeAll: true})
		if slowErr != nil {
			require.EqualError(t, err, slowErr.Error())
			refused++
			continue
		}
		require.NoError(t, err)
		requireSameLoads(t, a, b, fast, slow, i)
	}
	require.Equal(t, 3, refused)
	require.NotEmpty(t, ledger(t, a)["load_needs"])
}

// requireSameLoads holds what a load into a told, and its store, to those of b.
func requireSameLoads(t *testing.T, a, b *store.Store, got, want *LoadResult, export int) {
	t.Helper()
	one, err := json.MarshalIndent(got, "", " ")
	require.NoError(t, err)
	two, err := json.MarshalIndent(want, "", " ")
	require.NoError(t, err)
	assert.Equal(t, string(two), string(one), "export %d", export)
	has, should := ledger(t, a), ledger(t, b)
	for _, name := range slices.Sorted(maps.Keys(should)) {
		require.Equal(t, should[name], has[name], "export %d, %s", export, name)
	}
}
