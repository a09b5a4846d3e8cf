//go:build slow

package intake

import (
	"context"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every bad input: what changes in a sound bundle and the sentence that follows.
var badInputs = []struct{ name, file, old, new, want string }{
	{"missing column", "records.csv", "case_id,vdr_mm", "vdr_mm", "records.csv:1: column case_id: found no such column: add it"},
	{"unknown column", "records.csv", "vdr_mm", "weather", "records.csv:1: column weather: found an unknown column: take it out of records"},
	{"renamed column", "records.csv", "vdr_mm", "VDR mm", "records.csv:1: column VDR mm: found an unknown column: did you mean vdr_mm? rename it to vdr_mm"},
	{"column twice", "records.csv", "vdr_mm", "vdo_mm", "records.csv:1: column vdo_mm: found the name twice in the header: keep one"},
	{"column without name", "records.csv", "vdr_mm", "", "records.csv:1: found column 2 without a name: name the column"},
	{"semicolons", "remakes.csv", "", "case_id;arch;day;scope\nK1;lower;2;reline\n", `remakes.csv:1: found columns separated by ";": save the table with commas`},
	{"duplicate key", "records.csv", "K2,66", "K1,66", `records.csv:2: column case_id: found "K1": the same key as line 3 with other content: keep one`},
	{"parent missing", "remakes.csv", "K1,", "K9,", `remakes.csv:2: column case_id: found "K9": no such row in cases: add it there`},
	{"spot without visit", "sore_spots.csv", "V1,upper", "V7,upper", `sore_spots.csv:3: column visit_id: found "V7": no such row in visits`},
	{"text in a number", "records.csv", "62.5", "high", `records.csv:2: column vdo_mm: found "high": no number: write millimetres`},
	{"decimal comma", "records.csv", "62.5", `"62,5"`, `records.csv:2: column vdo_mm: found "62,5": a decimal comma: write millimetres with a point`},
	{"two points", "records.csv", "62.5", "62.25.1", `records.csv:2: column vdo_mm: found "62.25.1": two decimal points: write`},
	{"date for a day", "visits.csv", "K1,25", "K1,2024-04-02", `visits.csv:2: column day: found "2024-04-02": a calendar date: write whole days counted from the records (day 0)`},
	{"German date for a day", "visits.csv", "K1,25", "K1,02.04.2024", `found "02.04.2024": a calendar date`},
	{"NaN", "records.csv", "62.5", "NaN", `records.csv:2: column vdo_mm: found "NaN": no number: leave the cell empty`},
	{"infinity", "records.csv", "62.5", "infinity", `records.csv:2: column vdo_mm: found "infinity": no number: leave the cell empty`},
	{"exponent", "records.csv", "62.5", "1e3", `records.csv:2: column vdo_mm: found "1e3": a number with an exponent`},
	{"hexadecimal", "visits.csv", "K1,25", "K1,0x1F", `visits.csv:2: column day: found "0x1F": a hexadecimal number`},
	{"underscore", "visits.csv", "K1,25", "K1,1_000", `visits.csv:2: column day: found "1_000": an underscore in a number`},
	{"unit in the cell", "records.csv", "62.5", "62.5 mm", `records.csv:2: column vdo_mm: found "62.5 mm": a unit in the cell`},
	{"three decimals", "records.csv", "62.5", "62.505", `found "62.505": more decimals than the column takes`},
	{"decimals in a whole number", "visits.csv", "K1,25", "K1,12.7", `visits.csv:2: column day: found "12.7": more decimals than the column takes: write a whole number`},
	{"blanks", "records.csv", "62.5", " 62.5", `records.csv:2: column vdo_mm: found " 62.5": blanks around the value`},
	{"negative day", "visits.csv", "K1,25", "K1,-3", `visits.csv:2: column day: found "-3": outside 0 to 36525 d: check the chart`},
	{"hard range", "records.csv", "62.5", "120", `records.csv:2: column vdo_mm: found "120": outside 30 to 110 mm`},
	{"reading out of range", "readings.csv", "65.5", "29.5", `readings.csv:2: column value_mm: found "29.5": outside 30 to 110 mm: check the chart and correct it (vdr)`},
	{"clearance", "trays.csv", "1,2.5", "3,2.5", `trays.csv:2: column clearance_max_mm: found "2.5": less than clearance_min_mm`},
	{"arch both", "dentures.csv", "K1,upper", "K1,both", `dentures.csv:2: column arch: found "both": no code of this column: use upper, lower`},
	{"code in capitals", "dentures.csv", "K1,upper", "K1,Upper", `found "Upper": a code in capitals: write it in lower case`},
	{"zone of the other arch", "sore_spots.csv", "V1,lower,retromolar_pad", "V1,lower,tuberosity", `sore_spots.csv:2: column zone: found "tuberosity": no zone of the lower arch`},
	{"same code twice", "trays.csv", "ridge|border", "ridge|ridge", `trays.csv:3: column touches: found "ridge|ridge": the same code twice`},
	{"none with others", "trays.csv", "ridge|border", "none|border", `found "none|border": none beside other codes`},
	{"a spreadsheet's day", "cases.csv", "2024-03", "45060", `cases.csv:2: column records_on: found "45060": a spreadsheet's number of the day 2023-05-14: write the period, YYYY, YYYY-Qn, YYYY-MM or YYYY-MM-DD, or give the column the format of a date and export again`},
	{"a spreadsheet's day and time", "cases.csv", "2024-03", "45060.5", `a spreadsheet's number of the day 2023-05-14: `},
	{"no such month", "cases.csv", "2024-03", "2024-13", `cases.csv:2: column records_on: found "2024-13": no period`},
	{"no such day", "cases.csv", "2024-03", "2023-02-29", `cases.csv:2: column records_on: found "2023-02-29": no day of the calendar`},
	{"no such age", "cases.csv", ",72,", ",131,", `cases.csv:2: column age_band: found "131": no age or age band`},
	{"required cell empty", "cases.csv", "P1", "", "cases.csv:2: column patient_key: found an empty cell: empty, but the column is required"},
	{"unterminated quote", "visits.csv", "sore|loose", `"sore|loose`, "visits.csv:2: column complaints: found an unterminated quote: close the quote"},
	{"quote closed by a later cell", "visits.csv", "V1,K1", `"V1,K1`, "visits.csv:2: column visit_id: found an unterminated quote"},
	{"ragged row", "visits.csv", "V2,K1,40,,no,", "V2,K1,40", "visits.csv:3: found 3 cells where the header has 6: give the row one cell per column"},
	{"NUL byte", "visits.csv", "sore", "so\x00re", "visits.csv:2: found a NUL byte: export the table again"},
	{"cell of 10 MB", "visits.csv", "sore", strings.Repeat("x", 10<<20), "visits.csv:2: column complaints: found a cell that makes the record 10485"},
	{"empty file", "visits.csv", "", "", "visits.csv: found an empty file: export the table again"},
	{"cases without rows", "cases.csv", "", "case_id,patient_key,site,clinician,records_on,observed_to_day\n", "cases.csv: found a table without rows: export the cases again"},
	{"workbook", "visits.csv", "", "PK\x03\x04\x14\x00\x00\x00", "visits.csv: found a workbook or zip archive, no UTF-8 text: save the table as CSV"},
	{"binary", "visits.csv", "", strings.Repeat("\x7fELF\x00\x00", 50), "visits.csv: found binary content, no text"},
	{"Latin-1", "cases.csv", "P2", "P\xfc2", "cases.csv:3: found the byte 0xFC, which is no UTF-8: save the table as UTF-8"},
	{"UTF-16", "cases.csv", "", "\xff\xfec\x00a\x00s\x00e\x00", "cases.csv: found UTF-16 text, no UTF-8 text"},
	{"line break in a cell", "cases.csv", "P1", "\"P\n1\"", `cases.csv:2: column patient_key: found "P\n1": a line break or control character`},
	{"file that is no table", "weather.csv", "", "case_id\n", "weather.csv: found a CSV file that is no table of the contract: take it out"},
	{"unknown note", "bundle.toml", "", "invented = true\ncompleat = true\n", `bundle.toml:2: found the unknown key "compleat": keep to`},
	{"note of a wrong type", "bundle.toml", "", "invented = \"yes\"\n", "bundle.toml:1: found what is no such setting"},
	{"unknown basis", "bundle.toml", "", "basis = \"none\"\n", `bundle.toml: found the basis "none": keep to`},
}

func TestBadInputIsRefusedAndChangesNothing(t *testing.T) {
	ctx := context.Background()
	st := newStore(t)
	load(t, st, small)
	before := state(t, st)
	for _, tc := range badInputs {
		t.Run(tc.name, func(t *testing.T) {
			files := with(t, tc.file, tc.old, tc.new)
			if tc.file != noteFile { // a basis that allows dates, so that it is the rule for days that refuses one
				files[noteFile] = "basis = \"limited_data_set\"\n"
			}
			_, err := Load(ctx, st, write(t, files), LoadOptions{Strict: true})
			require.Error(t, err)
			assert.ErrorIs(t, err, ErrBadData)
			assert.Contains(t, err.Error(), tc.want)
			assert.Equal(t, before, state(t, st))
		})
	}
}

func TestBadPathsAreRefused(t *testing.T) {
	st := newStore(t)
	empty, file := t.TempDir(), filepath.Join(t.TempDir(), "cases.csv")
	require.NoError(t, os.WriteFile(file, []byte(small["cases.csv"]), 0o600))
	lacking := maps.Clone(small)
	delete(lacking, "visits.csv")
	renamed := maps.Clone(lacking)
	renamed["visit.csv"] = small["visits.csv"]
	for name, tc := range map[string]struct{ path, want string }{
		"no such path":  {filepath.Join(empty, "nowhere"), "found nothing at this path: check the path"},
		"no table":      {empty, "found a folder without a table: name the folder that holds cases.csv"},
		"a file":        {file, "found a single file: name the folder"},
		"missing table": {write(t, lacking), "found no table visits: add visits.csv"},
		"renamed table": {write(t, renamed), "visit.csv: found a CSV file that is no table of the contract: did you mean visits? rename it to visits.csv"},
	} {
		_, err := Load(context.Background(), st, tc.path, LoadOptions{})
		require.Error(t, err, name)
		assert.ErrorIs(t, err, ErrBadData, name)
		assert.Contains(t, err.Error(), tc.want, name)
	}
	assert.Equal(t, "0", state(t, st)["loads"])
}

func TestLimitListsTheFirstFaults(t *testing.T) {
	st := newStore(t)
	files := with(t, "records.csv", "62.5", "high")
	_, err := Load(context.Background(), st, write(t, files), LoadOptions{})
	var refusal *Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Contains(t, err.Error(), "nothing was loaded: 1 of 2 rows of records would be set aside, more than the 5 % allowed\n  records.csv:2: column vdo_mm")
	_, err = Load(context.Background(), st, write(t, files), LoadOptions{SetAsideLimit: 0.5})
	require.NoError(t, err, "half is allowed, and half it is")
}
