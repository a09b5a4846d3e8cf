package intake

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/mapping"
	"afterfit/internal/sheets"
	"afterfit/internal/store"
)

const mappings = "../../testdata/mappings/"

func TestNamesOfFormatsAndEncodingsAgree(t *testing.T) {
	assert.Equal(t, sheets.Encodings(), mapping.Encodings)
	assert.Equal(t, []string{sheets.CSV, sheets.XLSX, sheets.Parquet, sheets.NDJSON}, mapping.Formats)
}

func memory(t testing.TB) *store.Store {
	t.Helper()
	st, err := store.Open(context.Background(), "", store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	return st
}

// TestBalanceOfTheSamples holds the accounts of both samples to what was counted in
// the files by hand (lines, header, title, total; 8 repeated cases in the workbook).
func TestBalanceOfTheSamples(t *testing.T) {
	ctx := context.Background()
	res, err := Load(ctx, memory(t), mappings+"a_clinic_export", LoadOptions{Mapping: mappings + "a_clinic.toml", Strict: true})
	require.NoError(t, err)
	require.Len(t, res.Sources, 2)
	cases, dentures := res.Sources[0], res.Sources[1]
	assert.Equal(t, mapping.Balance{SheetID: mapping.SheetID{File: "fälle.csv"}, Source: "cases", Rows: 304, Title: 1, Header: 1, Blank: 1, Total: 1, Used: 300,
		Uses: []mapping.Use{{Table: "cases", Turns: 1, Made: 300}, {Table: "records", Turns: 1, Made: 300}}, Columns: []string{}}, cases)
	assert.Equal(t, mapping.Balance{SheetID: mapping.SheetID{File: "prothesen.csv"}, Source: "dentures", Rows: 541, Header: 1, Used: 540, Columns: []string{},
		Uses: []mapping.Use{{Table: "dentures", Turns: 1, Made: 540}, {Table: "trays", Turns: 1, Made: 540},
			{Table: "visits", Turns: 8, Made: 685, Empty: 8*540 - 685}, {Table: "sore_spots", Turns: 8, Made: 685, Empty: 8*540 - 685},
			{Table: "remakes", Turns: 1, Made: 3, Filtered: 537}}}, dentures)

	res, err = Load(ctx, memory(t), mappings+"b_quality_export.xlsx", LoadOptions{Mapping: mappings + "b_quality.toml", Strict: true})
	require.NoError(t, err)
	assert.Equal(t, Balance{Table: "cases", Read: 308, Kept: 300, Repeats: 8}, res.Balance[0])
	require.Len(t, res.Sources, 4)
	for _, b := range res.Sources {
		assert.True(t, b.Holds(), b.String())
		if b.Sheet == "Aftercare" {
			assert.Equal(t, []mapping.Use{{Table: "visits", Turns: 1, Made: 688, Filtered: 8}, {Table: "sore_spots", Turns: 1, Made: 688, Filtered: 8}, {Table: "remakes", Turns: 1, Made: 8, Filtered: 688}}, b.Uses)
		}
	}
}

// corrected counts the lines of a finished mapping that differ from the proposal,
// comments and blank lines aside.
func corrected(proposal, finished string) (changed []string) {
	lines := func(text string) map[string]int {
		m := map[string]int{}
		table := ""
		for _, l := range strings.Split(text, "\n") {
			l, _, _ = strings.Cut(l, "  #")
			if l = strings.TrimSpace(l); l == "" || strings.HasPrefix(l, "#") {
				continue
			}
			if strings.HasPrefix(l, "[") {
				table = l
			}
			m[table+" "+l]++
		}
		return m
	}
	want := lines(finished)
	for l, n := range lines(proposal) {
		want[l] -= n
	}
	for l, n := range want {
		if n != 0 {
			changed = append(changed, l)
		}
	}
	return changed
}

func TestProposalsNeedAHandfulOfCorrections(t *testing.T) {
	for _, s := range []struct{ export, mapping string }{{"a_clinic_export", "a_clinic.toml"}, {"b_quality_export.xlsx", "b_quality.toml"}} {
		e, err := Explore(context.Background(), mappings+s.export)
		require.NoError(t, err)
		finished, err := os.ReadFile(mappings + s.mapping)
		require.NoError(t, err)
		// Every corrected line counts twice: as it was and as it is.
		changed := corrected(e.Proposal, string(finished))
		assert.LessOrEqual(t, len(changed), 2*4, "%s: %s", s.export, strings.Join(changed, "\n"))
		assert.NotEmpty(t, changed, "the test compares a mapping with itself")
		for _, line := range strings.Split(e.Proposal, "\n") {
			if strings.Contains(line, "column = ") {
				assert.Regexp(t, `  # (guess|FILL IN): .`, line, "every guess gives its reason")
			}
		}
	}
}

// remapped loads sample a with one text of its mapping changed.
func remapped(t *testing.T, old, new string) (*store.Store, error) {
	t.Helper()
	text, err := os.ReadFile(mappings + "a_clinic.toml")
	require.NoError(t, err)
	require.Contains(t, string(text), old, "the test changes what is there")
	path := filepath.Join(t.TempDir(), "clinic.toml")
	require.NoError(t, os.WriteFile(path, []byte(strings.Replace(string(text), old, new, 1)), 0o600))
	st := memory(t)
	_, err = Load(context.Background(), st, mappings+"a_clinic_export", LoadOptions{Mapping: path})
	return st, err
}

// TestFaultsNameTheExportsOwnCells: what cannot be turned is set aside, and named
// by the practice's own file, line, column word and text.
func TestFaultsNameTheExportsOwnCells(t *testing.T) {
	wrong := []struct{ file, old, new, want string }{
		{"fälle.csv", "72;männlich", "72;M", `fälle.csv:5: column Geschlecht: found "M": a word that the mapping has no code for (in 1 row): add it to [codes.sex] in a_clinic.toml or correct it; the codes are female, male, other, unknown`},
		{"fälle.csv", "13.08.2025", "2025-08-13", `fälle.csv:6: column Beobachtet bis: found "2025-08-13": no date of the form dd.mm.yyyy: correct it, or leave the cell empty`},
		{"fälle.csv", "68,0;65,5", "68,0;hoch", `fälle.csv:7: column Schlussbiss (mm): found "hoch": no number in mm: write it like 6,5`},
		{"fälle.csv", "65,5;62,0", "65,5;62.0", `fälle.csv:8: column Schlussbiss (mm): found "62.0": no number in mm: write it like 6,5`},
		{"fälle.csv", "62,0;59,0", "62,0;159,0", `fälle.csv:9: column Schlussbiss (mm): found "159,0": outside 30 to 110 mm: check the chart and correct it`},
		{"fälle.csv", "63,0;59,5;;6,0", "63,0;59,505;;6,0", `fälle.csv:10: column Schlussbiss (mm): found "59,505": more decimals than the column takes`},
		{"fälle.csv", "53;männlich;III", "53;männlich;IIII", `fälle.csv:11: column Klasse: found "IIII": no whole number and no roman one: correct it, or leave the cell empty`},
		{"fälle.csv", "P00000009", "", `fälle.csv:12: column Pat.-Kürzel: found an empty cell: empty, but the column is required`},
		{"fälle.csv", "12.07.2024;61", ";61", `fälle.csv:13: column Beobachtet bis: found "23.01.2026": counted from the records of its case, which have no date: fill in or correct the date of the records`},
		{"prothesen.csv", "OK;02.05.2024", "OK;31.04.2024", `prothesen.csv:2: column Eingegliedert: found "31.04.2024": no date of the form dd.mm.yyyy: correct it, or leave the cell empty`},
		{"prothesen.csv", "UK;17.05.2024", "UK;17.05.2023", `prothesen.csv:3: column Eingegliedert: found "17.05.2023": outside 0 to 36525 d`},
		{"prothesen.csv", "08.12.2024;mittel", "08.12.2024;riesig", `prothesen.csv:16: column Löffelgröße: found "riesig": a word that the mapping has no code for (in 1 row): add it to [codes.size] in a_clinic.toml`},
		{"prothesen.csv", "11.12.2024;posterior seal", "11.12.2024;ridge mid", `prothesen.csv:16: column Druckstelle 1: found "ridge mid": a word that the mapping has no code for (in 1 row): give the column codes = "..." in a_clinic.toml or correct it`},
		{"prothesen.csv", "K00000012;OK", "K99;OK", `prothesen.csv:23: column Fall-Nr.: found "K99": no such row in cases: add it there or take this row out`},
		{"prothesen.csv", "K00000011;UK", "K00000011;OK", `prothesen.csv:21: column Fall-Nr.: found "K00000011": the same key as line 22 with other content`},
	}
	dir := t.TempDir()
	for _, name := range []string{"fälle.csv", "prothesen.csv"} {
		text, err := os.ReadFile(mappings + "a_clinic_export/" + name)
		require.NoError(t, err)
		for _, w := range wrong {
			if w.file == name {
				require.Contains(t, string(text), latin1(w.old), "the test changes what is there")
				text = []byte(strings.Replace(string(text), latin1(w.old), latin1(w.new), 1))
			}
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), text, 0o600))
	}
	ctx, st := context.Background(), memory(t)
	res, err := Load(ctx, st, dir, LoadOptions{Mapping: mappings + "a_clinic.toml", SetAsideLimit: 1})
	require.NoError(t, err)
	for _, b := range res.Balance {
		assert.True(t, b.Holds())
	}
	var all []string
	require.NoError(t, st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		faults, _, err := firstAside(ctx, c, res.LoadID, 1000)
		for _, f := range faults {
			all = append(all, f.String())
		}
		return err
	}))
	for _, w := range wrong {
		assert.True(t, strings.Contains("\n"+strings.Join(all, "\n"), "\n"+w.want), "%s\nis not among\n%s", w.want, strings.Join(all, "\n"))
	}
	assert.Equal(t, []mapping.UnknownCode{{Table: "cases", Column: "sex", Word: "M", Rows: 1}, {Table: "trays", Column: "size", Word: "riesig", Rows: 1}, {Table: "sore_spots", Column: "zone", Word: "ridge mid", Rows: 1}}, res.Unknown)
	report, err := st.Verify(ctx)
	require.NoError(t, err)
	assert.Empty(t, report.Problems)
}

// latin1 writes a text in the samples' encoding.
func latin1(s string) string {
	var b []byte
	for _, r := range s {
		b = append(b, byte(r))
	}
	return string(b)
}

// TestMappingThatDoesNotFit: each mistake says where in the mapping it stands, and
// what the export has instead.
func TestMappingThatDoesNotFit(t *testing.T) {
	for _, c := range []struct {
		name, old, new string
		want           []string
	}{
		{"wrong header word", `column = "Praxis"`, `column = "Praxes"`, []string{`found the column word "Praxes", which fälle.csv does not have on line 3: did you mean "Praxis"? its columns are "Fall-Nr."`, `site = { column = "Praxes" }`, "^^^^"}},
		{"missing file", `file = "prothesen.csv"`, `file = "prothese.csv"`, []string{`clinic.toml:19:1: found the file "prothese.csv", which the export does not have: did you mean "prothesen.csv"? it has the files "fälle.csv", "prothesen.csv"`, "\n      | ^^^^"}},
		{"glob that fits nothing", `file = "prothesen.csv"`, `file = "dentures*.csv"`, []string{`the file "dentures*.csv", which the export does not have`}},
		{"two files fit", `file = "prothesen.csv"`, `file = "*.csv"`, []string{`a source that fits 2 files or sheets (fälle.csv; prothesen.csv): name the one that is meant with file and sheet, or write many = true`}},
		{"wrong header line", "delimiter = \";\"\nskip", "delimiter = \";\"\nheader = 1\nskip", []string{`which fälle.csv does not have on line 1`}},
		{"no header at that line", "delimiter = \";\"\nskip", "delimiter = \";\"\nheader = 2000\nskip", []string{`a header on line 2000, where fälle.csv has none`}},
		{"column in a sideways group", `["1..8"]`, `["1..9"]`, []string{`the column word "Nachsorge 9", which prothesen.csv does not have on line 1: did you mean "Nachsorge 1"?`}},
		{"unit missing", `column = "Spalt min", unit = "mm"`, `column = "Spalt min"`, []string{`found no unit for clearance_min_mm: add unit = "mm" or "cm" or "in"`}},
		{"date without day 0", `column = "Eingegliedert", day0 = "records"`, `column = "Eingegliedert"`, []string{`no unit for delivered_day: add unit = "days" or "weeks", or date = "dd.mm.yyyy" if it is a date`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			st, err := remapped(t, c.old, c.new)
			require.ErrorIs(t, err, ErrBadData)
			for _, want := range c.want {
				assert.Contains(t, err.Error(), want)
			}
			var loads int
			require.NoError(t, st.DB().QueryRow("SELECT count(*) FROM main.loads").Scan(&loads))
			assert.Zero(t, loads, "nothing was stored")
		})
	}
	_, err := Load(context.Background(), memory(t), mappings+"a_clinic_export", LoadOptions{Mapping: "nowhere.toml"})
	require.ErrorIs(t, err, ErrBadData)
	assert.Contains(t, err.Error(), "nowhere.toml: found no mapping that can be read")
}

// TestRefusalNamesWordsWithoutACode: where a whole column is in unknown words, the
// refusal lists them with their counts before anything else.
func TestRefusalNamesWordsWithoutACode(t *testing.T) {
	_, err := remapped(t, `weiblich = "female"`, ``)
	var refused *Refusal
	require.ErrorAs(t, err, &refused)
	assert.Contains(t, refused.Error(), `158 of 300 rows of cases would be set aside, more than the 5 % allowed`)
	assert.Contains(t, refused.Error(), `words that the mapping has no code for: "weiblich" in 158 rows (cases.sex)`)
}

// TestMappedLoadIsRepeatable: the same export again changes nothing, and a newer
// one corrects the case that it changes.
func TestMappedLoadIsRepeatable(t *testing.T) {
	ctx := context.Background()
	st := memory(t)
	opt := LoadOptions{Mapping: mappings + "a_clinic.toml"}
	_, err := Load(ctx, st, mappings+"a_clinic_export", opt)
	require.NoError(t, err)
	before, err := st.Fingerprint(ctx)
	require.NoError(t, err)
	res, err := Load(ctx, st, mappings+"a_clinic_export", opt)
	require.NoError(t, err)
	assert.True(t, res.Unchanged)
	after, err := st.Fingerprint(ctx)
	require.NoError(t, err)
	assert.Equal(t, before, after)
}
