package intake

import (
	"bytes"
	"context"
	"fmt"
	"hash/maphash"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
	"afterfit/internal/store"
)

// ordersOfRows puts rows, of which those of one parent stand together, into other orders,
// and says whether those of a parent still stand together.
var ordersOfRows = map[string]struct {
	order func(rows []string) []string
	apart bool
}{
	"together": {func(rows []string) []string { return rows }, false},
	"repeated": {func(rows []string) []string { return slices.Concat(rows[:2], rows[1:2], rows[2:]) }, false},
	"parents turned": {func(rows []string) []string {
		rows = slices.Clone(rows)
		slices.SortStableFunc(rows, func(a, b string) int { return strings.Compare(parentIn(b), parentIn(a)) })
		return rows
	}, false},
	"strays strewn": {func(rows []string) []string {
		var out, strays []string
		for _, row := range rows {
			if n, err := numbered(parentIn(row)); err == nil && n >= 9 {
				strays = append(strays, row)
			}
		}
		for i, row := range rows[:len(rows)-len(strays)] {
			if out = append(out, row); i%2 == 0 && len(strays) > 0 {
				out, strays = append(out, strays[0]), append(strays[1:], strays[0])
			}
		}
		return out
	}, false},
	"repeated far apart":  {func(rows []string) []string { return append(slices.Clone(rows), rows[0]) }, true},
	"one back at the end": {func(rows []string) []string { return append(slices.Clone(rows[1:]), rows[0]) }, true},
	"all twice":           {func(rows []string) []string { return slices.Concat(rows, rows) }, true},
	"in turns": {func(rows []string) []string {
		var even, odd []string
		for i, row := range rows {
			if i%2 == 0 {
				even = append(even, row)
			} else {
				odd = append(odd, row)
			}
		}
		return append(even, odd...)
	}, true},
	"any order": {func(rows []string) []string {
		rows = slices.Concat(rows, rows[:5])
		rand.New(rand.NewPCG(7, 11)).Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
		return rows
	}, true},
}

// parentIn is the key of the parent, which stands first in the rows here.
func parentIn(row string) string { parent, _, _ := strings.Cut(row, ","); return parent }

// orderedBundle is an export of cases and their rows in some order. Of the case K09 no row
// is sound, and K10 to K12 are not there. Some cases have so many readings as are not looked
// through one by one.
func orderedBundle(order func(rows []string) []string) map[string]string {
	files := map[string]string{
		noteFile:    "basis = \"consented_local\"\ninvented = true\n",
		"cases.csv": "case_id,patient_key,site,clinician,records_on,observed_to_day\n", "visits.csv": "visit_id,case_id,day,adjusted\n",
	}
	rows := map[string][]string{}
	for i := range 13 {
		k := fmt.Sprintf("K%02d", i)
		day := "400"
		if i == 9 {
			day = "soon"
		}
		if i < 10 {
			files["cases.csv"] += fmt.Sprintf("%s,P%d,S1,C1,2024-03,%s\n", k, i, day)
		}
		files["visits.csv"] += fmt.Sprintf("V%02d,%s,30,yes\n", i, k)
		for _, arch := range []string{"upper", "lower"} {
			rows["dentures"] = append(rows["dentures"], k+","+arch+",20")
			rows["trays"] = append(rows["trays"], k+","+arch+",medium")
			rows["remakes"] = append(rows["remakes"], k+","+arch+",200,reline")
			for side := range 3 {
				rows["sore_spots"] = append(rows["sore_spots"], fmt.Sprintf("V%02d,%s,labial_sulcus,%d", i, arch, side+1))
			}
		}
		rows["records"] = append(rows["records"], k+",65")
		for take := range 2 + i%3*40 {
			rows["readings"] = append(rows["readings"], fmt.Sprintf("%s,vdr,%d,65.5", k, take+1))
		}
	}
	heads := map[string]string{"dentures": "case_id,arch,delivered_day", "trays": "case_id,arch,size", "remakes": "case_id,arch,day,scope",
		"sore_spots": "visit_id,arch,zone,grade", "records": "case_id,vdr_mm", "readings": "case_id,measure,take,value_mm"}
	for name, head := range heads {
		files[name+".csv"] = head + "\n" + strings.Join(order(rows[name]), "\n") + "\n"
	}
	return files
}

// TestRowsOfOneKeyAreJudgedInAnyOrder: in whatever order rows come, those are judged whose
// key another row has or whose parent is not sound, and no others; the keys of all rows are
// held only where those of one parent stand apart or are very many.
func TestRowsOfOneKeyAreJudgedInAnyOrder(t *testing.T) {
	ctx := context.Background()
	for name, c := range ordersOfRows {
		t.Run(name, func(t *testing.T) {
			files := orderedBundle(c.order)
			src, err := Open(ctx, write(t, files), t.TempDir())
			require.NoError(t, err)
			s := newSieve()
			for _, tb := range bundle.Tables {
				sheet, err := src.Read(ctx, tb.Name, t.TempDir())
				require.NoError(t, err)
				f := s.begin(tb, sheet)
				require.NoError(t, sheet.eachRecord(ctx, func(rec int64, text []byte) error { return f.take(ctx, rec, text) }))
				f.finish()
				if tb.Parent == "" || tb.Name == "visits" {
					continue
				}
				if tb.Name != "records" { // one row of each case
					assert.Equal(t, c.apart || tb.Name == "readings", f.keys.all.slots != nil, tb.Name)
				}
				times, rows := map[string]int{}, strings.Split(strings.TrimSpace(files[tb.Name+".csv"]), "\n")[1:]
				for _, row := range rows {
					times[row]++ // the rows of one key are the same here
				}
				for rec, row := range rows {
					number, err := numbered(parentIn(row))
					require.NoError(t, err)
					assert.Equal(t, times[row] > 1 || number >= 9, f.judge.has(int64(rec)), "%s, %s", tb.Name, row)
				}
			}
		})
	}
}

// numbered is the number in a key, behind its letter.
func numbered(key string) (int, error) { return strconv.Atoi(key[1:]) }

// TestOrdersOfRowsLoadAsWhereEveryRowIsJudged loads the same rows in several orders, one
// after another, both ways.
func TestOrdersOfRowsLoadAsWhereEveryRowIsJudged(t *testing.T) {
	a, b := newStore(t), newStore(t)
	for i, name := range []string{"one back at the end", "any order", "in turns"} {
		loadBothWays(t, a, b, write(t, orderedBundle(ordersOfRows[name].order)), "", i)
	}
	require.NotEmpty(t, ledger(t, a)["load_needs"])
}

// loadBothWays loads an export with sound rows taken straight, and with every row judged.
func loadBothWays(t *testing.T, a, b *store.Store, path, mapping string, export int) *LoadResult {
	t.Helper()
	ctx := context.Background()
	fast, err := Load(ctx, a, path, LoadOptions{SetAsideLimit: 1, Mapping: mapping})
	require.NoError(t, err)
	slow, err := Load(ctx, b, path, LoadOptions{SetAsideLimit: 1, Mapping: mapping, judgeAll: true})
	require.NoError(t, err)
	requireSameLoads(t, a, b, fast, slow, export)
	return fast
}

// TestFilesOfOneTableShareItsKeys: rows of one case stand in two files of an export.
func TestFilesOfOneTableShareItsKeys(t *testing.T) {
	export, mapping := writeForeign(t, "Nr;Kl;Jahr\nK1;1;2024\nK2;2;2024\nK3;1;2024\n", `
[export]
name = "two files"
basis = "consented_local"
absent = ["records", "readings", "trays", "visits", "sore_spots", "remakes"]
[sources.list]
file = "list.csv"
[sources.teeth]
file = "teeth*.csv"
many = true
[[cases]]
from = "list"
[cases.columns]
case_id = { column = "Nr" }
patient_key = { column = "Nr" }
site = { value = "S1" }
clinician = { value = "C1" }
records_on = { column = "Jahr", keep = "year", date = "yyyy" }
ridge_class = { column = "Kl" }
observed_to_day = { value = "400" }
[[dentures]]
from = "teeth"
[dentures.columns]
case_id = { column = "Nr" }
arch = { column = "Kiefer" }
delivered_day = { column = "Tag", unit = "days" }
`, map[string]string{
		"teeth1.csv": "Nr;Kiefer;Tag\nK1;upper;20\nK2;upper;21\nK3;upper;22\n",
		"teeth2.csv": "Nr;Kiefer;Tag\nK1;lower;20\nK1;upper;20\nK2;upper;23\nK3;lower;22\n",
	})
	res := loadBothWays(t, newStore(t), newStore(t), export, mapping, 0)
	assert.Equal(t, Balance{Table: "dentures", Read: 7, Kept: 4, SetAside: 2, Repeats: 1}, res.Balance[1])
}

// TestRowKeysHoldTheParentUnderWay: what rows of one key are told by, step by step.
func TestRowKeysHoldTheParentUnderWay(t *testing.T) {
	var k rowKeys
	add := func(up uint32, hash uint64, rec uint32) string {
		before, twice, apart := k.add(up, hash, rec)
		return fmt.Sprint(before, twice, apart)
	}
	assert.Equal(t, "0 false false", add(3, 30, 0))
	assert.Equal(t, "0 false false", add(3, 31, 1))
	assert.Equal(t, "0 true false", add(3, 30, 2))
	assert.Equal(t, "0 false false", add(0, 1, 3), "another parent")
	assert.Equal(t, "3 true false", add(0, 1, 4))
	assert.Equal(t, "0 false true", add(3, 30, 5), "one that was over")
	assert.Equal(t, "0 false true", add(3, 30, 5), "nothing was done")
	k.holdAll(10)
	assert.Equal(t, "0 false false", add(3, 30, 0))
	assert.Equal(t, "0 true false", add(3, 30, 5))
	k = rowKeys{}
	for i := range uint32(rowsOneByOne) {
		require.Equal(t, "0 false false", add(5, uint64(i), i))
	}
	assert.Equal(t, "7 true false", add(5, 7, rowsOneByOne))
	assert.Equal(t, "0 false true", add(5, 1<<40, rowsOneByOne+1), "too many for one by one")
}

// TestFirstsTellTheFirstRecordOfEveryKey holds them to a list, with records between that
// bring no key.
func TestFirstsTellTheFirstRecordOfEveryKey(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var f firsts
	var want []uint32
	for rec := range uint32(2000) {
		if r.IntN(10) > 0 || rec < 100 {
			f.note(uint32(len(want)), rec) //nolint:gosec // few
			want = append(want, rec)
		}
	}
	for key, rec := range want {
		require.Equal(t, rec, f.of(uint32(key)), key) //nolint:gosec // few
	}
	assert.Less(t, len(f), 500)
	assert.Equal(t, firstOf{}, f[0])
}

// TestKeyListGivesBackItsKeys: keys of all lengths, in order and packed or whole, one after
// the other, by number, and looked for from wherever the one before was found.
func TestKeyListGivesBackItsKeys(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	keys := [][]byte{}
	for i := range 20_000 {
		keys = append(keys, fmt.Appendf(nil, "%d", r.IntN(1<<40)), fmt.Appendf(nil, "V%06d", i), bytes.Repeat([]byte{byte('a' + i%7)}, i%400))
	}
	keys = append(keys, bytes.Repeat([]byte("long"), 40_000), bytes.Repeat([]byte("lonh"), 40_000))
	slices.SortFunc(keys, keyOrder)
	keys = slices.CompactFunc(keys, bytes.Equal)
	x := newIndex(maphash.MakeSeed())
	for i, key := range keys {
		n, isNew := x.add(key)
		require.True(t, isNew)
		require.Equal(t, uint32(i), n) //nolint:gosec // few
	}
	require.Nil(t, x.slots)
	assert.Greater(t, len(x.keys.blocks), 3)
	for _, packed := range []bool{true, false} {
		require.Equal(t, !packed, x.keys.plain)
		c := x.walk()
		for i := range keys {
			require.True(t, c.next())
			require.Equal(t, i, c.n)
			require.True(t, bytes.Equal(keys[i], c.key))
		}
		require.False(t, c.next())
		var near keyCursor
		for range 20_000 {
			i := r.IntN(len(keys))
			if r.IntN(2) == 0 && near.n >= 0 && near.list != nil {
				i = min(near.n+r.IntN(2*nearBy), len(keys)-1)
			}
			require.True(t, bytes.Equal(keys[i], x.key(uint32(i)))) //nolint:gosec // few
			n, known := x.find(keys[i], &near)
			require.True(t, known)
			require.Equal(t, uint32(i), n) //nolint:gosec // few
			_, known = x.find(append(bytes.Clone(keys[i]), '!'), &near)
			require.False(t, known)
		}
		if packed {
			x.keys.unpack()
			x.makeRoom(x.keys.n)
		}
	}
}

// TestSumsOfCasesSideBySide: tables add side by side, also to cases that only they name,
// and nothing is lost where the lower half is full.
func TestSumsOfCasesSideBySide(t *testing.T) {
	s := newSieve()
	s.sums = make([]sum128, 3)
	done := make(chan bool)
	for range 4 {
		go func() {
			for i := range uint32(20_000) {
				s.addSum(i%5, sum128{low: 1<<63 + 1})
			}
			s.addSum(noCase, sum128{low: 1})
			done <- true
		}()
	}
	for range 4 {
		<-done
	}
	for _, sum := range slices.Concat(s.sums, s.strays) { // 16,000 times 2^63 + 1
		assert.Equal(t, sum128{high: 8000, low: 16_000}, sum)
	}
	assert.Len(t, s.strays, 2)
}
