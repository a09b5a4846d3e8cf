package intake

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// column reads one column of text from a query.
func column(t testing.TB, st *store.Store, q string) []string {
	t.Helper()
	rows, err := st.DB().QueryContext(context.Background(), q)
	require.NoError(t, err)
	defer rows.Close()
	got := []string{}
	for rows.Next() {
		var s string
		require.NoError(t, rows.Scan(&s))
		got = append(got, s)
	}
	require.NoError(t, rows.Err())
	return got
}

func TestSameContentTwiceChangesNothing(t *testing.T) {
	st := newStore(t)
	first := load(t, st, small)
	before := state(t, st)
	again := load(t, st, small)
	assert.True(t, again.Unchanged)
	assert.Equal(t, first.LoadID, again.LoadID)
	assert.False(t, first.Unchanged)
	assert.Equal(t, before, state(t, st))
}

// TestAnExportLoadedBeforeIsOlder: the same bytes again do not take back what came
// since; undoing does. A new export whose case reads as it once did is newer, and
// counts.
func TestAnExportLoadedBeforeIsOlder(t *testing.T) {
	st := newStore(t)
	load(t, st, small)
	first := state(t, st)["fingerprint"]
	load(t, st, with(t, "records.csv", "62.5", "61.5"))
	second := state(t, st)["fingerprint"]
	require.NotEqual(t, first, second)
	again := load(t, st, small)
	assert.True(t, again.Unchanged)
	assert.EqualValues(t, 1, again.LoadID)
	assert.EqualValues(t, 1, again.CasesSince, "K1 was replaced by load 2")
	assert.Equal(t, second, state(t, st)["fingerprint"])
	newer := load(t, st, with(t, "records.csv", "K2,66,", "K2,66.5,"))
	assert.EqualValues(t, 2, newer.CasesChanged, "K1 goes back to what it was, K2 is new")
	assert.Equal(t, []string{"K1 62.50", "K2 63.25"}, column(t, st, "SELECT concat_ws(' ', case_id, vdo_mm) FROM records ORDER BY 1"))
	for _, n := range []int64{3, 2} {
		_, err := st.Undo(context.Background(), n, time.Time{})
		require.NoError(t, err)
	}
	assert.Equal(t, first, state(t, st)["fingerprint"])
}

func TestNewerExportSupersedesByCase(t *testing.T) {
	st := newStore(t)
	load(t, st, small)
	res := load(t, st, with(t, "sore_spots.csv", "tuberosity,1", "tuberosity,3"))
	assert.EqualValues(t, 1, res.CasesChanged, "K1: one of its sore spots changed")
	assert.EqualValues(t, 1, res.CasesUnchanged, "K2")
	assert.Equal(t, Balance{Table: "cases", Read: 2, Kept: 1, Repeats: 1, Superseded: 1}, balance(t, res, "cases"))
	assert.Equal(t, Balance{Table: "visits", Read: 2, Kept: 2, Superseded: 2}, balance(t, res, "visits"))
	assert.Equal(t, Balance{Table: "sore_spots", Read: 2, Kept: 2, Superseded: 2}, balance(t, res, "sore_spots"))
	assert.Equal(t, []string{"2", "3"}, column(t, st, "SELECT grade::VARCHAR FROM sore_spots ORDER BY 1"))
	assert.Equal(t, []string{"1|2", "2|2"}, column(t, st, "SELECT grade || '|' || superseded_by FROM history.sore_spots ORDER BY 1"))
	assert.Equal(t, []string{"K1|2", "K2|1"}, column(t, st, "SELECT case_id || '|' || load_id FROM cases ORDER BY 1"))
}

func TestCompleteExportWithdrawsAbsentCases(t *testing.T) {
	only := map[string]string{}
	for name, text := range small {
		head, _, _ := strings.Cut(text, "\n")
		only[name] = head + "\n"
	}
	only["cases.csv"] += "K2,P2,S1,C2,2024-Q2,60-69,380\n"
	only["dentures.csv"] += "K2,upper,\n"
	only["records.csv"] += "K2,66,63.25,,1\n"
	only["trays.csv"] += "K2,upper,1.5,2,\n"
	for _, complete := range []bool{false, true} {
		st := newStore(t)
		load(t, st, small)
		only["bundle.toml"] = fmt.Sprintf("name = \"part\"\ninvented = true\ncomplete = %t\n", complete)
		res := load(t, st, only)
		assert.EqualValues(t, 1, res.CasesUnchanged)
		want := []string{"K1", "K2"}
		if complete {
			want = []string{"K2"}
			assert.EqualValues(t, 1, res.CasesWithdrawn)
			assert.EqualValues(t, 2, balance(t, res, "sore_spots").Superseded)
		}
		assert.Equal(t, want, column(t, st, "SELECT case_id FROM cases ORDER BY 1"))
		assert.Equal(t, []string{"true"}, column(t, st, "SELECT invented::VARCHAR FROM loads WHERE load_id = 2"))
	}
}

func TestRepeatsAreDroppedAndCounted(t *testing.T) {
	st := newStore(t)
	files := with(t, "records.csv", "K2,66", "K1,65.50,62.5,3.0,2\nK2,66")
	res := load(t, st, files)
	assert.Equal(t, Balance{Table: "records", Read: 3, Kept: 2, Repeats: 1}, balance(t, res, "records"))
	plain := newStore(t)
	load(t, plain, small)
	assert.Equal(t, state(t, plain)["fingerprint"], state(t, st)["fingerprint"])
}

func TestSetAsideFollowsTheParents(t *testing.T) {
	st := newStore(t)
	res := load(t, st, with(t, "cases.csv", "K1,P1,S1,C1,2024-03", "K1,P1,S1,C1,March"))
	assert.Equal(t, Balance{Table: "cases", Read: 2, Kept: 1, SetAside: 1}, balance(t, res, "cases"))
	assert.Equal(t, Balance{Table: "sore_spots", Read: 2, SetAside: 2}, balance(t, res, "sore_spots"))
	assert.Equal(t, []string{"visits.csv:2 case_id K1 its row in cases was set aside: mend that row first"},
		column(t, st, "SELECT file || ':' || line || ' ' || column_name || ' ' || value || ' ' || reason FROM set_aside WHERE table_name = 'visits' AND line = 2"))
	assert.Equal(t, []string{"its row in visits was set aside: mend that row first"},
		column(t, st, "SELECT DISTINCT reason FROM set_aside WHERE table_name = 'sore_spots'"))
}

func TestCaseThatIsSetAsideKeepsItsEarlierRows(t *testing.T) {
	st := newStore(t)
	load(t, st, small)
	files := with(t, "cases.csv", "K1,P1,S1,C1,2024-03", "K1,P1,S1,C1,March")
	files["bundle.toml"] = "complete = true\n"
	res := load(t, st, files)
	assert.Zero(t, res.CasesWithdrawn)
	assert.Equal(t, []string{"K1", "K2"}, column(t, st, "SELECT case_id FROM cases ORDER BY 1"))
}

func TestVisitNumberOfAnotherCaseIsSetAside(t *testing.T) {
	st := newStore(t)
	load(t, st, small)
	other := map[string]string{}
	for name, text := range small {
		other[name] = strings.NewReplacer("K1", "K8", "K2", "K9").Replace(text)
	}
	res := load(t, st, other)
	assert.Equal(t, Balance{Table: "visits", Read: 2, SetAside: 2}, balance(t, res, "visits"))
	assert.Equal(t, []string{"a visit of another case in the store has this number: make it unique"},
		column(t, st, "SELECT DISTINCT reason FROM set_aside WHERE table_name = 'visits'"))
}

func TestLinesSurviveBlankAndRejectedLines(t *testing.T) {
	st := newStore(t)
	files := with(t, "visits.csv", "", "\ufeff\r\nvisit_id,case_id,day,adjusted\r\n\r\nV1,K1,25,yes\r\n\r\nV2,K1\r\nV3,K1,x,no\r\nV4,K1,60,\"no\"\n   \nV5,K1,-1,no")
	files["sore_spots.csv"] = "visit_id,arch,zone\n"
	res := load(t, st, files)
	assert.Equal(t, Balance{Table: "visits", Read: 5, Kept: 2, SetAside: 3}, balance(t, res, "visits"))
	assert.Equal(t, []string{"6", "7", "10"}, column(t, st, "SELECT line::VARCHAR FROM set_aside ORDER BY line"))
	assert.Equal(t, []string{"V1", "V4"}, column(t, st, "SELECT visit_id FROM visits ORDER BY 1"))
}

func TestLinesAfterARecordOfTwoLines(t *testing.T) {
	st := newStore(t)
	load(t, st, with(t, "remakes.csv", "", "case_id,arch,day,scope\r\nK1,lower,1,\"re\r\nline\"\r\nK1,lower,x,reline\r\nK1,\"lower\",7,reset\r\n"))
	assert.Equal(t, []string{"2 scope", "4 day"}, column(t, st, "SELECT line || ' ' || column_name FROM set_aside ORDER BY line"))
	assert.Equal(t, []string{"7"}, column(t, st, "SELECT day::VARCHAR FROM remakes"))
}

// Columns in another order than the contract's: read_csv would map by position.
func TestSwappedColumnsLandByName(t *testing.T) {
	st := newStore(t)
	load(t, st, with(t, "records.csv", "", "vdo_mm,case_id,vdr_mm\n62.5,K1,65.5\n63.25,K2,66\n"))
	assert.Equal(t, []string{"K1 65.50 62.50", "K2 66.00 63.25"}, column(t, st, "SELECT case_id || ' ' || vdr_mm || ' ' || vdo_mm FROM records ORDER BY 1"))
}

func TestValuesAreKeptExactly(t *testing.T) {
	st := newStore(t)
	load(t, st, with(t, "records.csv", "65.5,62.5,3", "65.05,62,-0.0"))
	assert.Equal(t, []string{"65.05 62.00 0.00"}, column(t, st, "SELECT vdr_mm || ' ' || vdo_mm || ' ' || freeway_mm FROM records WHERE case_id = 'K1'"))
	assert.Equal(t, []string{"60-69", "70-79"}, column(t, st, "SELECT age_band FROM cases ORDER BY 1"), "the plain age 72 is banded")
	assert.Equal(t, []string{"V2"}, column(t, st, "SELECT visit_id FROM visits WHERE arch IS NULL AND complaints IS NULL"), "an empty cell is not recorded")
}

func TestUnusualValuesAreKeptAndFlagged(t *testing.T) {
	st := newStore(t)
	files := with(t, "records.csv", "65.5,62.5,3", "44.99,62.5,8.01")
	files["visits.csv"] = strings.Replace(files["visits.csv"], "V2,K1,40", "V2,K1,401", 1)
	res := load(t, st, files)
	assert.EqualValues(t, 4, res.Flags)
	assert.Equal(t, []string{
		"records K1 K1 freeway_mm 8.01 outside the usual 0 to 8 mm",
		"records K1 K1 vdo_mm 62.50 vertical of occlusion above the vertical of rest",
		"records K1 K1 vdr_mm 44.99 outside the usual 45 to 90 mm",
		"visits K1 V2 day 401 after the end of observation",
	}, column(t, st, "SELECT concat_ws(' ', table_name, case_id, row_key, column_name, value, rule) FROM flags ORDER BY ALL"))
}

func TestPathWithPatternCharacters(t *testing.T) {
	st := newStore(t)
	dir := filepath.Join(t.TempDir(), "it's [a] year=2024 *")
	require.NoError(t, os.Mkdir(dir, 0o700))
	for name, text := range small {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	_, err := Load(context.Background(), st, dir, LoadOptions{Strict: true})
	require.NoError(t, err)
}

func TestCancelInTheMiddleChangesNothing(t *testing.T) {
	st := newStore(t)
	load(t, st, small)
	before := state(t, st)
	scratch := t.TempDir()
	for _, at := range []string{"reading", "checking", "storing", "stored"} {
		ctx, cancel := context.WithCancel(context.Background())
		_, err := Load(ctx, st, cleanBundle, LoadOptions{TempDir: scratch, Progress: func(stage string, done, _ int64) {
			if stage == at && done > 2 {
				cancel()
			}
		}})
		cancel()
		require.Error(t, err, at)
		assert.Equal(t, before, state(t, st), at)
	}
	left, err := os.ReadDir(scratch)
	require.NoError(t, err)
	assert.Empty(t, left, "the private folder is gone")
}

func TestLookReportsWithoutStoring(t *testing.T) {
	files := with(t, "records.csv", "vdr_mm", "Rest")
	delete(files, "remakes.csv")
	report, err := Look(context.Background(), write(t, files))
	require.NoError(t, err)
	require.Len(t, report.Tables, 8)
	records := report.Tables[2]
	assert.Equal(t, ColumnLook{Name: "Rest", Filled: 1}, records.Columns[1])
	assert.Equal(t, ColumnLook{Name: "freeway_mm", Known: true, Filled: 0.5}, records.Columns[3])
	assert.Contains(t, records.Missing, "vdr_mm")
	assert.Contains(t, records.Problem, "column Rest: found an unknown column")
	assert.Equal(t, "no table remakes: add remakes.csv", report.Tables[7].Problem)
	assert.EqualValues(t, 2, report.Tables[0].Rows)
}
