package demo

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
)

// row is one row of a table by column name.
type row map[string]string

// day reads a whole number; an empty cell is -1, which no day number is.
func (r row) day(t *testing.T, column string) int {
	t.Helper()
	if r[column] == "" {
		return -1
	}
	n, err := strconv.Atoi(r[column])
	require.NoError(t, err, column)
	return n
}

// mm reads a length; ok is false for an empty cell.
func (r row) mm(t *testing.T, column string) (value float64, ok bool) {
	t.Helper()
	if r[column] == "" {
		return 0, false
	}
	value, err := strconv.ParseFloat(r[column], 64)
	require.NoError(t, err, column)
	return value, true
}

// read is the slow reader: the standard library's CSV and maps, nothing of the writer.
func read(t *testing.T, dir string) map[string][]row {
	t.Helper()
	tables := map[string][]row{}
	for _, tb := range bundle.Tables {
		raw, err := os.ReadFile(filepath.Join(dir, tb.Name+".csv"))
		require.NoError(t, err)
		lines, err := csv.NewReader(strings.NewReader(string(raw))).ReadAll()
		require.NoError(t, err)
		require.Equal(t, tb.Names(), lines[0], tb.Name)
		for _, cells := range lines[1:] {
			r := row{}
			for i, name := range lines[0] {
				r[name] = cells[i]
			}
			tables[tb.Name] = append(tables[tb.Name], r)
		}
	}
	return tables
}

var (
	wholeNumber = regexp.MustCompile(`^-?\d+$`)
	aLength     = regexp.MustCompile(`^-?\d+(\.\d{1,2})?$`)
	aPeriod     = regexp.MustCompile(`^\d{4}(-Q[1-4]|-(0[1-9]|1[0-2])(-\d\d)?)?$`)
)

// fault says what is wrong with a cell by the contract, "" for nothing.
func fault(c bundle.Column, v string) string {
	if v == "" {
		if c.Required {
			return "empty"
		}
		return ""
	}
	ok := true
	switch c.Kind {
	case bundle.Code, bundle.AgeBand:
		ok = slices.Contains(c.Codes, v)
	case bundle.Codes:
		parts := strings.Split(v, "|")
		for i, p := range parts {
			ok = ok && slices.Contains(c.Codes, p) && !slices.Contains(parts[:i], p) && (p != "none" || len(parts) == 1)
		}
	case bundle.Int, bundle.Day:
		ok = wholeNumber.MatchString(v)
	case bundle.Length:
		ok = aLength.MatchString(v)
	case bundle.Period:
		ok = aPeriod.MatchString(v)
	}
	if !ok {
		return "not a " + c.Kind.String()
	}
	if c.Hard != nil {
		if x, err := strconv.ParseFloat(v, 64); err != nil || !(x >= c.Hard.Min && x <= c.Hard.Max) {
			return "outside the hard range"
		}
	}
	return ""
}

func TestFaultSeesFaults(t *testing.T) {
	column := func(table, name string) bundle.Column {
		tb, _ := bundle.Find(table)
		c, ok := tb.Column(name)
		require.True(t, ok)
		return c
	}
	for _, c := range []struct {
		table, column, value string
		wrong                bool
	}{{"cases", "site", "", true}, {"cases", "lab", "", false}, {"cases", "sex", "woman", true}, {"cases", "sex", "female", false},
		{"trays", "touches", "none|ridge", true}, {"trays", "touches", "ridge|ridge", true}, {"trays", "touches", "ridge|border", false},
		{"records", "vdr_mm", "29.5", true}, {"records", "vdr_mm", "6,5", true}, {"records", "vdr_mm", "65.0", false},
		{"visits", "day", "3.5", true}, {"visits", "day", "-1", true}, {"cases", "records_on", "2022-13", true}} {
		assert.Equal(t, c.wrong, fault(column(c.table, c.column), c.value) != "", "%s.%s %q", c.table, c.column, c.value)
	}
}

func TestBundleKeepsTheContract(t *testing.T) {
	tables := read(t, written(t))
	for _, tb := range bundle.Tables {
		require.NotEmpty(t, tables[tb.Name], tb.Name)
		keys := map[string]bool{}
		for i, r := range tables[tb.Name] {
			for _, c := range tb.Columns {
				if wrong := fault(c, r[c.Name]); wrong != "" {
					t.Fatalf("%s row %d, %s = %q: %s", tb.Name, i+2, c.Name, r[c.Name], wrong)
				}
			}
			if len(tb.Key) == 0 {
				continue
			}
			key := ""
			for _, k := range tb.Key {
				key += r[k] + "\x00"
			}
			require.False(t, keys[key], "%s row %d repeats a key", tb.Name, i+2)
			keys[key] = true
		}
	}
	for _, tb := range bundle.Tables {
		if tb.Parent == "" {
			continue
		}
		parents := map[string]bool{}
		for _, r := range tables[tb.Parent] {
			parents[r[tb.ParentBy]] = true
		}
		for i, r := range tables[tb.Name] {
			require.True(t, parents[r[tb.ParentBy]], "%s row %d has no parent", tb.Name, i+2)
		}
	}
}

// TestRowsMakeSense holds what the columns alone cannot: the order of days, zones of
// the right arch, ranges of readings by measure, remakes that point back.
func TestRowsMakeSense(t *testing.T) {
	tables := read(t, written(t))
	cases, delivered, visitArch := map[string]row{}, map[string]int{}, map[string]row{}
	for _, r := range tables["cases"] {
		if back := r["remake_of"]; back != "" {
			first, ok := cases[back]
			require.True(t, ok, "%s remakes %s, which does not come before it", r["case_id"], back)
			require.Equal(t, first["patient_key"], r["patient_key"])
			require.Equal(t, "remake", r["course"])
		}
		cases[r["case_id"]] = r
	}
	inside := func(r row, column string) {
		require.LessOrEqual(t, r.day(t, column), cases[r["case_id"]].day(t, "observed_to_day"), "%v", r)
	}
	for _, r := range tables["dentures"] {
		inside(r, "delivered_day")
		delivered[r["case_id"]+r["arch"]] = r.day(t, "delivered_day")
	}
	for _, r := range tables["visits"] {
		inside(r, "day")
		visitArch[r["visit_id"]] = r
		if a := r["arch"]; a == "upper" || a == "lower" {
			d, made := delivered[r["case_id"]+a]
			require.True(t, made && d >= 0 && r.day(t, "day") >= d, "a visit before delivery: %v", r)
		}
	}
	for _, r := range tables["sore_spots"] {
		v := visitArch[r["visit_id"]]
		require.Contains(t, bundle.Zones(r["arch"]), r["zone"])
		require.Contains(t, []string{"", "both", r["arch"]}, v["arch"])
		_, made := delivered[v["case_id"]+r["arch"]]
		require.True(t, made, "a sore spot under a denture that was not made: %v", r)
	}
	for _, r := range tables["remakes"] {
		inside(r, "day")
		require.Greater(t, r.day(t, "day"), delivered[r["case_id"]+r["arch"]])
	}
	for _, r := range tables["readings"] {
		hard, _ := bundle.MeasureRanges(r["measure"])
		x, _ := r.mm(t, "value_mm")
		require.True(t, x >= hard.Min && x <= hard.Max, "%v", r)
	}
	for _, r := range tables["trays"] {
		least, a := r.mm(t, "clearance_min_mm")
		most, b := r.mm(t, "clearance_max_mm")
		require.Equal(t, a, b)
		require.LessOrEqual(t, least, most)
		require.True(t, r["arch"] == "upper" || r["palate_mm"] == "", "a palate in a lower tray: %v", r)
	}
}

// written is the bundle of default size, written once for all tests.
func written(t *testing.T) string {
	t.Helper()
	if sharedDir == "" {
		dir, err := os.MkdirTemp("", "demo")
		require.NoError(t, err)
		sharedDir = dir
		require.NoError(t, Write(t.Context(), dir, Options{}))
	}
	return sharedDir
}

var sharedDir string

func TestMain(m *testing.M) {
	code := m.Run()
	if sharedDir != "" {
		if err := os.RemoveAll(sharedDir); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
	}
	os.Exit(code)
}
