package intake

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"afterfit/internal/blank"
	"afterfit/internal/bundle"
)

// filled fills in the empty workbook as a person would: values typed into the
// columns of that name, plain numbers as numbers.
func filled(t testing.TB, files map[string]string, change func(f *excelize.File)) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "filled.xlsx")
	out, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, blank.Workbook(out, blank.Content{}))
	require.NoError(t, out.Close())
	f, err := excelize.OpenFile(path)
	require.NoError(t, err)
	for _, tb := range bundle.Tables {
		rows, err := csv.NewReader(strings.NewReader(files[tb.Name+".csv"])).ReadAll()
		require.NoError(t, err)
		for i, r := range rows[1:] {
			for j, name := range rows[0] {
				typeCell(t, f, tb, name, i+3, r[j])
			}
		}
	}
	change(f)
	require.NoError(t, f.Save())
	require.NoError(t, f.Close())
	return path
}

func typeCell(t testing.TB, f *excelize.File, tb bundle.Table, name string, row int, text string) {
	t.Helper()
	col := 0
	for i, n := range tb.Names() {
		if n == name {
			col = i + 1
		}
	}
	require.NotZero(t, col, name)
	at, err := excelize.CoordinatesToCellName(col, row)
	require.NoError(t, err)
	if x, err := strconv.ParseFloat(text, 64); err == nil {
		require.NoError(t, f.SetCellValue(tb.Name, at, x))
	} else if text != "" {
		require.NoError(t, f.SetCellValue(tb.Name, at, text))
	}
}

func TestAFilledWorkbookLoads(t *testing.T) {
	ctx := context.Background()
	want := newStore(t)
	load(t, want, small)
	for name, change := range map[string]func(f *excelize.File){
		"as typed": func(*excelize.File) {},
		"numbers typed as text, and rows of blanks": func(f *excelize.File) {
			require.NoError(t, f.SetCellStr("records", "B3", "65.5"))
			require.NoError(t, f.SetCellStr("visits", "C3", "25"))
			require.NoError(t, f.SetCellStr("visits", "C200", ""))
			require.NoError(t, f.SetCellStr("cases", "A9000", ""))
		},
		"an empty row between":                         func(f *excelize.File) { require.NoError(t, f.InsertRows("dentures", 4, 2)) },
		"saved again with its sheets in another order": func(f *excelize.File) { require.NoError(t, f.MoveSheet("visits", "help")) },
	} {
		st := newStore(t)
		res, err := Load(ctx, st, filled(t, small, change), LoadOptions{Strict: true})
		require.NoError(t, err, name)
		assert.Equal(t, fingerprint(t, want), fingerprint(t, st), name)
		assert.Equal(t, Note{}, res.Note, name)
		for _, b := range res.Balance {
			assert.Equal(t, b.Read, b.Kept, "%s: %s", name, b.Table)
		}
	}
}

func TestATypedDateKeepsItsDay(t *testing.T) {
	path := filled(t, small, func(f *excelize.File) {
		require.NoError(t, f.SetCellValue("cases", "F3", time.Date(2024, 3, 5, 0, 0, 0, 0, time.UTC)))
		require.NoError(t, f.SetCellStr("bundle", "B3", "consented_local"))
		require.NoError(t, f.SetCellValue("visits", "C3", time.Date(2024, 4, 2, 0, 0, 0, 0, time.UTC)))
	})
	st := newStore(t)
	res, err := Load(context.Background(), st, path, LoadOptions{SetAsideLimit: 1})
	require.NoError(t, err)
	assert.Equal(t, "consented_local", res.Note.Basis)
	var on string
	require.NoError(t, st.DB().QueryRow("SELECT records_on FROM main.cases WHERE case_id = 'K1'").Scan(&on))
	assert.Equal(t, "2024-03-05", on)
	assert.Contains(t, res.SetAside[0].String(), `filled.xlsx[visits]:3: column day: found "2024-04-02": a calendar date`)
	assert.Equal(t, Balance{Table: "visits", Read: 2, Kept: 1, SetAside: 1}, balance(t, res, "visits"))
	fingerprint(t, st)
}
