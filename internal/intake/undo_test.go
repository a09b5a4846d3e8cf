package intake

import (
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// wholeContent is what a store says of its cases and of every row that ever stood there;
// the ledger aside, an undone load leaves it as it was.
func wholeContent(t testing.TB, st *store.Store) map[string]string {
	t.Helper()
	all := map[string]string{"fingerprint": fingerprint(t, st)}
	for _, schema := range []string{"main", "history"} {
		for _, table := range []string{"cases", "dentures", "records", "readings", "trays", "visits", "sore_spots", "remakes"} {
			all[schema+"."+table] = strings.Join(column(t, st, fmt.Sprintf("SELECT CAST(x AS VARCHAR) FROM %s.%s x ORDER BY 1", schema, table)), "\n")
		}
	}
	for _, table := range []string{"set_aside", "flags", "seen", "corrected"} {
		all[table] = strings.Join(column(t, st, "SELECT CAST(x AS VARCHAR) FROM "+table+" x ORDER BY 1"), "\n")
	}
	return all
}

// noteOf puts a note into a bundle.
func noteOf(files map[string]string, note string) map[string]string {
	files = maps.Clone(files)
	files[noteFile] = note
	return files
}

// withCase is small with a case K3 of its own.
func withCase(t testing.TB, files map[string]string) map[string]string {
	t.Helper()
	files = maps.Clone(files)
	for name, row := range map[string]string{"cases.csv": "K3,P3,S1,C1,2024,50-59,90", "dentures.csv": "K3,upper,10", "records.csv": "K3,60,57,,", "trays.csv": "K3,upper,1,2,", "visits.csv": "V9,K3,20,upper,yes,", "sore_spots.csv": "V9,upper,torus_,1"} {
		files[name] += strings.Replace(row, "torus_", "tuberosity", 1) + "\n"
	}
	return files
}

// onlyK2 is small without K1.
func onlyK2() map[string]string {
	files := map[string]string{}
	for name, text := range small {
		for i, line := range strings.Split(text, "\n") {
			if i == 0 || strings.HasPrefix(line, "K2") {
				files[name] += line + "\n"
			}
		}
	}
	return files
}

// TestUndoTakesALoadBack: a newer export corrects, adds or withdraws cases, or
// brings rows set aside, corrected; what stands after the load and its undoing is
// what stood before, row for row, and the load can be made again.
func TestUndoTakesALoadBack(t *testing.T) {
	ctx := context.Background()
	for name, second := range map[string]map[string]string{
		"corrects a case":    with(t, "sore_spots.csv", "tuberosity,1", "tuberosity,3"),
		"adds a case":        withCase(t, small),
		"withdraws a case":   noteOf(onlyK2(), "complete = true\n"),
		"repeats, all of it": noteOf(small, "name = \"again\"\n"),
		"sets rows aside":    with(t, "records.csv", "66,63.25", "66,163.25"),
		"adds rows":          {"visits.csv": "visit_id,case_id,day,adjusted\nV3,K2,90,no\n", noteFile: "adds = true\n"},
	} {
		t.Run(name, func(t *testing.T) {
			st := newStore(t)
			load(t, st, small)
			before := wholeContent(t, st)
			res := load(t, st, second)
			require.EqualValues(t, 2, res.LoadID)
			after := wholeContent(t, st)
			require.Equal(t, name == "repeats, all of it", after["fingerprint"] == before["fingerprint"], "the load changes what it is about")
			u, err := st.Undo(ctx, 2, time.Time{})
			require.NoError(t, err)
			for i, n := range u.Tables {
				assert.Equal(t, res.Balance[i].Kept, n.TakenOut, n.Table)
				assert.Equal(t, res.Balance[i].Superseded, n.PutBack, n.Table)
			}
			assert.Equal(t, before, wholeContent(t, st))
			loads, err := st.Loads(ctx)
			require.NoError(t, err)
			assert.Equal(t, []bool{false, true}, []bool{loads[0].Undone, loads[1].Undone}, "the ledger keeps both")
			_, err = st.Undo(ctx, 2, time.Time{})
			require.ErrorContains(t, err, "load 2 cannot be undone: it was undone before")
			if name != "corrects a case" {
				return
			}
			again := load(t, st, second)
			assert.EqualValues(t, 3, again.LoadID, "no number is given twice")
			assert.Equal(t, after["fingerprint"], fingerprint(t, st))
		})
	}
}

// TestUndoRefusesWhatOthersBuildOn: every way in which a later load can lean on an
// earlier one, and one in which it does not.
func TestUndoRefusesWhatOthersBuildOn(t *testing.T) {
	ctx := context.Background()
	other := map[string]string{}
	for name, text := range small {
		other[name] = strings.NewReplacer("K1", "K8", "K2", "K9", "V1", "V8", "V2", "V9").Replace(text)
	}
	clash := maps.Clone(other)
	clash["visits.csv"] = strings.Replace(clash["visits.csv"], "V9", "V2", 1)
	for name, c := range map[string]struct {
		third map[string]string
		want  string
	}{
		"replaces":        {with(t, "records.csv", "62.5", "61.5"), "load 2 builds on it"},
		"repeats":         {noteOf(small, "name = \"again\"\n"), "load 2 builds on it"},
		"withdraws":       {noteOf(other, "complete = true\n"), "load 2 builds on it"},
		"adds to a case":  {map[string]string{"visits.csv": "visit_id,case_id,day,adjusted\nV3,K2,90,no\n", noteFile: "adds = true\n"}, "load 2 builds on it"},
		"adds to a visit": {map[string]string{"sore_spots.csv": "visit_id,arch,zone\nV2,upper,tuberosity\n", noteFile: "adds = true\n"}, "load 2 builds on it"},
		"gave way to":     {clash, "load 2 builds on it"},
		"stands alone":    {other, ""},
	} {
		t.Run(name, func(t *testing.T) {
			st := newStore(t)
			load(t, st, small)
			load(t, st, c.third)
			before := state(t, st)
			_, err := st.Undo(ctx, 1, time.Time{})
			if c.want == "" {
				require.NoError(t, err)
				assert.Equal(t, []string{"K8", "K9"}, column(t, st, "SELECT case_id FROM cases ORDER BY 1"))
				fingerprint(t, st)
				return
			}
			require.ErrorContains(t, err, "load 1 cannot be undone: "+c.want)
			assert.ErrorContains(t, err, "undo it first")
			assert.Equal(t, before, state(t, st))
		})
	}
	st := newStore(t)
	_, err := st.Undo(ctx, 7, time.Time{})
	require.ErrorContains(t, err, "load 7 cannot be undone: there is no such load: 'afterfit load --list' lists them")
}

// TestACorrectionOutlivesTheExportThatNeededIt: the faulty export again, and a new
// one that repeats the fault in one case while another case is new, leave the
// correction where it is. An export that says something new of the case wins.
func TestACorrectionOutlivesTheExportThatNeededIt(t *testing.T) {
	ctx := context.Background()
	st, place := newStore(t), filepath.Join(t.TempDir(), "aside")
	wrong := with(t, "visits.csv", "V2,K1,40", "V2,K1,4O")
	first, err := Load(ctx, st, write(t, wrong), LoadOptions{SetAsideLimit: 1, SetAside: place})
	require.NoError(t, err)
	require.EqualValues(t, 1, balance(t, first, "visits").SetAside)
	faultyContent := wholeContent(t, st)
	path := filepath.Join(place, "visits.csv")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Contains(t, string(text), "4O")
	require.NoError(t, os.WriteFile(path, []byte(strings.Replace(string(text), "4O", "40", 1)), 0o600))
	mended, err := Load(ctx, st, place, LoadOptions{Strict: true})
	require.NoError(t, err)
	assert.EqualValues(t, 1, mended.Corrected)
	assert.Zero(t, mended.StillAside)
	right := fingerprint(t, st)

	again := load(t, st, wrong)
	assert.True(t, again.Unchanged)
	assert.Equal(t, right, fingerprint(t, st))

	next := load(t, st, withCase(t, wrong))
	assert.EqualValues(t, 1, next.CasesHeld, "K1: its visit is still wrong at the source, and corrected here")
	assert.EqualValues(t, 1, next.CasesUnchanged, "K2")
	assert.Zero(t, next.CasesChanged)
	assert.Equal(t, Balance{Table: "visits", Read: 3, Kept: 1, SetAside: 1, Repeats: 1}, balance(t, next, "visits"))
	assert.Equal(t, []string{"V1", "V2", "V9"}, column(t, st, "SELECT visit_id FROM visits ORDER BY 1"))

	newer := with(t, "visits.csv", "V2,K1,40", "V2,K1,4O")
	newer["visits.csv"] += "V3,K1,80,,no,\n"
	res := load(t, st, newer)
	assert.EqualValues(t, 1, res.CasesChanged)
	assert.Equal(t, []string{"V1", "V3", "V9"}, column(t, st, "SELECT visit_id FROM visits ORDER BY 1"))

	for _, n := range []int64{4, 3, 2} {
		_, err := st.Undo(ctx, n, time.Time{})
		require.NoError(t, err)
	}
	assert.Equal(t, faultyContent, wholeContent(t, st))
}

// TestACaseIsHeldOnlyWhereAllItsRowsStand: a row that was set aside because another
// case had its number is no repeat once that number is free.
func TestACaseIsHeldOnlyWhereAllItsRowsStand(t *testing.T) {
	st := newStore(t)
	other := func(visit string) map[string]string {
		files := map[string]string{}
		for name, text := range small {
			files[name] = strings.NewReplacer("K1", "K8", "K2", "K9", "V1", "V8", "V2", visit).Replace(text)
		}
		return files
	}
	load(t, st, other("V2"))
	taken := load(t, st, small)
	require.EqualValues(t, 1, balance(t, taken, "visits").SetAside)
	load(t, st, other("V7"))
	res := load(t, st, withCase(t, small))
	assert.Zero(t, res.CasesHeld)
	assert.Equal(t, []string{"K1 V1", "K1 V2", "K3 V9", "K8 V7", "K8 V8"}, column(t, st, "SELECT concat_ws(' ', case_id, visit_id) FROM visits ORDER BY 1"))
}

// TestExplainTellsAllOfALoad holds what the ledger says of a mapped load to what
// the load itself said.
func TestExplainTellsAllOfALoad(t *testing.T) {
	ctx, st := context.Background(), newStore(t)
	res, err := Load(ctx, st, mappings+"b_quality_export.xlsx", LoadOptions{Mapping: mappings + "b_quality.toml"})
	require.NoError(t, err)
	e, err := st.Explain(ctx, 1)
	require.NoError(t, err)
	assert.Equal(t, "b_quality.toml", e.Mapping)
	sum, err := fileSHA256(mappings + "b_quality.toml")
	require.NoError(t, err)
	assert.Equal(t, sum, e.MappingOf)
	require.Len(t, e.Files, len(res.Sources))
	for i, f := range e.Files {
		assert.Equal(t, []any{res.Sources[i].String(), res.Sources[i].Rows, res.Sources[i].Used, res.Sources[i].Header}, []any{f.File, f.Read, f.Used, f.Header})
	}
	require.Len(t, e.Rows, len(res.Outcomes))
	for i, r := range e.Rows {
		o := res.Outcomes[i]
		assert.Equal(t, store.RowsInfo{File: o.File, Table: o.Table, Made: o.Made, Kept: o.Kept, Newer: o.Newer, SetAside: o.SetAside, Repeats: o.Repeats}, r)
	}
	assert.Contains(t, e.Rows, store.RowsInfo{File: "b_quality_export.xlsx[Case list]", Table: "cases", Made: 308, Kept: 300, Repeats: 8})
	none, err := st.Explain(ctx, 2)
	require.NoError(t, err)
	assert.Nil(t, none)
}
