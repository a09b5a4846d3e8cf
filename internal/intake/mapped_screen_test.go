package intake

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/privacy"
	"afterfit/internal/store"
)

// foreign is a small invented export of another shape and its mapping; each test
// changes what it is about.
const (
	foreignCases = "Nr;Pat;Ort;Aufnahme;Geboren;Ende;Bemerkung\n" +
		"K1;P1;S1;04.03.2024;17.05.1931;04.03.2025;\nK2;P2;S1;05.03.2024;16.05.1950;05.03.2025;\n"
	foreignMapping = `[export]
basis = "safe_harbor"
date = "dd.mm.yyyy"
absent = ["dentures", "records", "readings", "trays", "visits", "sore_spots", "remakes"]
[sources.list]
file = "list.csv"
[[cases]]
from = "list"
[cases.columns]
case_id = { column = "Nr" }
patient_key = { column = "Pat" }
site = { column = "Ort" }
clinician = { value = "C1" }
records_on = { column = "Aufnahme", keep = "year" }
age_band = { column = "Geboren", date = "dd.mm.yyyy" }
observed_to_day = { column = "Ende", day0 = "records" }
`
)

// writeForeign writes an export and its mapping; more are further files.
func writeForeign(t testing.TB, cases, mapping string, more map[string]string) (export, mappingPath string) {
	t.Helper()
	export, home := t.TempDir(), t.TempDir()
	mappingPath = filepath.Join(home, "list.toml")
	require.NoError(t, os.WriteFile(filepath.Join(export, "list.csv"), []byte(cases), 0o600))
	require.NoError(t, os.WriteFile(mappingPath, []byte(mapping), 0o600))
	for name, text := range more {
		require.NoError(t, os.WriteFile(filepath.Join(export, name), []byte(text), 0o600))
	}
	return export, mappingPath
}

// swap changes what must be there.
func swap(t testing.TB, text, old, new string) string {
	t.Helper()
	require.Contains(t, text, old, "the test changes what is there")
	return strings.Replace(text, old, new, 1)
}

// TestNothingOfAPersonIsLeftOfAForeignExport puts a person's mark into a column
// that the mapping does not name, one that a code list would replace, a key of
// several columns, a date column and a sheet that the mapping does not know. The
// load stops, and the mark stands nowhere: not in the message, the store, the
// load's folder, nor in what a look prints and proposes.
func TestNothingOfAPersonIsLeftOfAForeignExport(t *testing.T) {
	coded := swap(t, foreignMapping, `site = { column = "Ort" }`, `site = { column = "Ort", codes = "ort" }`) + "[codes.ort]\nS1 = \"S1\"\n\"*\" = \"S9\"\n"
	joined := swap(t, foreignMapping, `{ column = "Pat" }`, `{ join = ["Pat", "Ort"] }`)
	for _, c := range []struct{ name, cases, mapping, mark, where, notes string }{
		{"not mapped", swap(t, foreignCases, "2025;\nK2", "2025;zwiebelkamp@example.org\nK2"), foreignMapping, "zwiebelkamp", "list.csv: column Bemerkung: found e-mail", ""},
		{"coded", swap(t, foreignCases, "P1;S1", "P1;Dr. Hans Zwiebelkamp"), coded, "Zwiebelkamp", "list.csv: column Ort: found names", ""},
		{"part of a key", swap(t, foreignCases, "P1;S1", "P1;+49 171 5550193"), joined, "5550193", "list.csv: column Ort: found telephone", ""},
		{"a date's column", swap(t, foreignCases, "17.05.1931", "078-05-1120"), foreignMapping, "078-05", "list.csv: column Geboren: found social security", ""},
		{"another file", foreignCases, foreignMapping, "5550193", "notes.csv: column Was: found telephone", "Wer;Was\nA;+49 171 5550193\n"},
		{"above the header", "Sehr geehrter Herr Dr. Hans Zwiebelkamp\n;\n" + foreignCases, foreignMapping, "Zwiebelkamp", "list.csv: column lines above the header: found names", ""},
		{"number above the header", "Auswertung, Telefon: +49 171 5550193\n;\n" + foreignCases, foreignMapping, "5550193", "list.csv: column lines above the header: found telephone", ""},
		{"in place of a header", swap(t, foreignCases, "Nr;Pat;Ort;Aufnahme;Geboren;Ende;Bemerkung\n", "K0;P0;zwiebelkamp@example.org;04.03.2024;17.05.1931;04.03.2025;\n"), foreignMapping, "zwiebelkamp", "found a source of which no column word stands", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			ctx, home := context.Background(), t.TempDir()
			more := map[string]string{}
			if c.notes != "" {
				more["notes.csv"] = c.notes
			}
			export, mapping := writeForeign(t, c.cases, c.mapping, more)
			st, err := store.Open(ctx, filepath.Join(home, "s.duckdb"), store.Options{Threads: 1})
			require.NoError(t, err)
			before := state(t, st)
			_, err = Load(ctx, st, export, LoadOptions{Mapping: mapping, TempDir: home, SetAsideLimit: 1, SetAside: filepath.Join(home, "aside")})
			require.ErrorIs(t, err, ErrBadData)
			assert.ErrorContains(t, err, c.where)
			assert.NotContains(t, err.Error(), c.mark)
			assert.Equal(t, before, state(t, st))
			require.NoError(t, st.Close())
			searchFiles(t, home, c.mark)
			e, err := Explore(ctx, export)
			require.NoError(t, err)
			seen, err := json.Marshal(e)
			require.NoError(t, err)
			assert.NotContains(t, string(seen), c.mark)
		})
	}
}

// TestATitleMayStand: a heading with the moment of printing is no finding, and one that
// only looks like a person is cleared like a column.
func TestATitleMayStand(t *testing.T) {
	title := "Auswertung der Totalprothesen, Stand 04.03.2026\n;\n"
	export, mapping := writeForeign(t, title+foreignCases, foreignMapping, nil)
	_, err := Load(context.Background(), newStore(t), export, LoadOptions{Mapping: mapping})
	require.NoError(t, err)
	cleared := foreignMapping + "[[cleared]]\ntable = \"list\"\ncolumn = \"lines above the header\"\nkind = \"name\"\nreason = \"the name of the house\"\n"
	export, mapping = writeForeign(t, "Haus Dr. Hans Zwiebelkamp\n;\n"+foreignCases, cleared, nil)
	res, err := Load(context.Background(), newStore(t), export, LoadOptions{Mapping: mapping})
	require.NoError(t, err)
	require.Len(t, res.Cleared, 1)
}

// TestANumberInATitleIsFound: a telephone number shows in the middle of a sentence, and
// what else a heading counts or dates is no such number.
func TestANumberInATitleIsFound(t *testing.T) {
	kinds := func(text string) (kinds []privacy.Kind) {
		for _, f := range screenTitles(privacy.SafeHarbor, privacy.Column{Table: "list", File: "list.csv", Name: titleWord}, []string{text}) {
			assert.NotContains(t, fmt.Sprint(f), "1234", "no finding shows a value")
			kinds = append(kinds, f.Kind)
		}
		return kinds
	}
	for _, text := range []string{"Questions to the front desk on 0221 555 1234 please", "Rückfragen an die Anmeldung, +49 221 5551234, bis Freitag", "ask (0221) 5551234 first", "Rueckfragen 0221/5551234 (Anmeldung)", "Call 0221-5551234"} {
		assert.Equal(t, []privacy.Kind{privacy.Telephone}, kinds(text), text)
	}
	for _, text := range []string{"Dentures of 01.01.2024 - 31.12.2024", "Report 2024-01-01 - 2024-12-31, printed 04.03.2026 14:30", "Period 01/2024 - 12/2024", "2023/2024: 120 of 1500 cases (8.0 %)", "Export 3.2.1 of 12 tables, 100-200 rows each",
		"Stand 01.03.26 - 31.03.26", "Cases 1000 - 1999 and 2000 - 2999"} {
		assert.Empty(t, kinds(text), text)
	}
}

// TestOfADateOnlyWhatTheBasisAllowsIsLeft: under safe_harbor the dates of an export
// become day numbers, a year and an age band; not even the text of a cell that
// cannot be turned reaches the store.
func TestOfADateOnlyWhatTheBasisAllowsIsLeft(t *testing.T) {
	ctx, home := context.Background(), t.TempDir()
	cases := foreignCases + "K3;P3;S1;06.03.2024;31.02.1940;06.03.2025;\nK4;P4;S1;07.03.2024;01.01.1940;06.03.2023;\n"
	export, mapping := writeForeign(t, cases, foreignMapping, nil)
	path := filepath.Join(home, "s.duckdb")
	st, err := store.Open(ctx, path, store.Options{Threads: 1})
	require.NoError(t, err)
	aside := filepath.Join(home, "aside")
	res, err := Load(ctx, st, export, LoadOptions{Mapping: mapping, SetAsideLimit: 1, SetAside: aside})
	require.NoError(t, err)
	// K1 is 92 on the day of the records, K2 is 73 (74 on the next 16 May).
	assert.Equal(t, []string{"K1 2024 90+ 365", "K2 2024 70-79 365"}, column(t, st, "SELECT concat_ws(' ', case_id, records_on, age_band, observed_to_day) FROM cases ORDER BY 1"))
	assert.Equal(t, []string{"4 Geboren 99.99.9999", "5 Ende 99.99.9999"}, column(t, st, "SELECT concat_ws(' ', line, column_name, value) FROM set_aside ORDER BY 1"))
	for _, f := range res.Privacy {
		assert.True(t, f.Turned, f)
		assert.False(t, f.Stops, f)
	}
	assert.Len(t, res.Privacy, 3)
	require.NoError(t, st.Close())
	for _, mark := range []string{"1931", "31.02", "06.03.2023", "04.03."} {
		searchFiles(t, home, mark)
	}
}

// TestADateThatWouldGoOnStops: the same columns where more of them would be left.
func TestADateThatWouldGoOnStops(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"key of a date", `{ column = "Nr" }`, `{ join = ["Nr", "Aufnahme"] }`, "column Aufnahme: found dates finer than a year (the shape of the values) in 2 rows, kind date, shaped like \"99.99.9999\": take the date out of cases.case_id"},
		{"not mapped", "age_band = { column = \"Geboren\", date = \"dd.mm.yyyy\" }\n", "", "column Geboren: found dates finer than a year"},
		{"finer than a year", `keep = "year"`, `keep = "quarter"`, `found keep = "quarter", which is finer than the basis safe_harbor allows: write keep = "year"`},
		{"a text", `{ column = "Ort" }`, `{ column = "Geboren" }`, "take the date out of cases.site"},
	} {
		t.Run(c.name, func(t *testing.T) {
			export, mapping := writeForeign(t, foreignCases, swap(t, foreignMapping, c.old, c.new), nil)
			_, err := Load(context.Background(), newStore(t), export, LoadOptions{Mapping: mapping})
			require.ErrorIs(t, err, ErrBadData)
			assert.ErrorContains(t, err, c.want)
		})
	}
	// Under a basis that allows dates, all of this may be loaded.
	export, mapping := writeForeign(t, foreignCases, swap(t, swap(t, foreignMapping, "safe_harbor", "limited_data_set"), `keep = "year"`, `keep = "day"`), nil)
	res, err := Load(context.Background(), newStore(t), export, LoadOptions{Mapping: mapping})
	require.NoError(t, err)
	assert.Empty(t, res.Privacy)
}

// TestKeepFollowsTheBasis: without keep, safe_harbor leaves the year of a date.
func TestKeepFollowsTheBasis(t *testing.T) {
	st := newStore(t)
	export, mapping := writeForeign(t, foreignCases, swap(t, foreignMapping, `, keep = "year"`, ""), nil)
	_, err := Load(context.Background(), st, export, LoadOptions{Mapping: mapping})
	require.NoError(t, err)
	assert.Equal(t, []string{"2024", "2024"}, column(t, st, "SELECT records_on FROM cases"))
}

// TestAMappingClears: a person's word in the mapping lets a column through, also
// where the contract's own column takes its text, and the ledger keeps it.
func TestAMappingClears(t *testing.T) {
	ctx := context.Background()
	cases := swap(t, swap(t, foreignCases, "P1;S1", "P1;Zwiebelkamp, Hans"), ";Ort;", ";Praxis;")
	foreignMapping := swap(t, foreignMapping, `"Ort"`, `"Praxis"`)
	export, plain := writeForeign(t, cases, foreignMapping, nil)
	_, err := Load(ctx, newStore(t), export, LoadOptions{Mapping: plain})
	require.ErrorContains(t, err, "list.toml: [[cleared]] with table (the source, file or sheet), column, kind and a reason")
	for _, table := range []string{"list", "list.csv", "LIST*"} {
		note := "[[cleared]]\ntable = \"" + table + "\"\ncolumn = \"praxis\"\nkind = \"name\"\nreason = \"the practice's own name\"\n"
		export, mapping := writeForeign(t, cases, foreignMapping+note, nil)
		st := newStore(t)
		res, err := Load(ctx, st, export, LoadOptions{Mapping: mapping})
		require.NoError(t, err)
		assert.Equal(t, []privacy.Clearance{{Table: "list", Column: "Praxis", Kind: privacy.Name, Reason: "the practice's own name"}}, res.Cleared)
		assert.Equal(t, []string{"1|list|Praxis|name|the practice's own name"}, column(t, st, "SELECT concat_ws('|', load_id, table_name, column_name, kind, reason) FROM cleared"))
		trial, err := Try(ctx, export, mapping)
		require.NoError(t, err)
		assert.Equal(t, res.Cleared, trial.Cleared)
	}
	for wrong, want := range map[string]string{`kind = "nme"`: `for the unknown kind "nme"`, `kind = "name"`: "without a reason"} {
		_, mapping := writeForeign(t, cases, foreignMapping+"[[cleared]]\ntable = \"list\"\ncolumn = \"Praxis\"\n"+wrong+"\n", nil)
		_, err := Load(ctx, newStore(t), export, LoadOptions{Mapping: mapping})
		require.ErrorIs(t, err, ErrBadData)
		assert.ErrorContains(t, err, want)
		assert.ErrorContains(t, err, "list.toml:")
	}
}
