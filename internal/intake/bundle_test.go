package intake

import (
	"context"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// small is a sound bundle of two invented cases; each test changes what it is about.
var small = map[string]string{
	"cases.csv": "case_id,patient_key,site,clinician,records_on,age_band,observed_to_day\n" +
		"K1,P1,S1,C1,2024-03,72,400\nK2,P2,S1,C2,2024-Q2,60-69,380\n",
	"dentures.csv":   "case_id,arch,delivered_day\nK1,upper,20\nK1,lower,21\nK2,upper,\n",
	"records.csv":    "case_id,vdr_mm,vdo_mm,freeway_mm,centric_takes\nK1,65.5,62.5,3,2\nK2,66,63.25,,1\n",
	"readings.csv":   "case_id,measure,take,value_mm,reader\nK1,vdr,1,65.5,C1\nK1,vdr,2,65,\n",
	"trays.csv":      "case_id,arch,clearance_min_mm,clearance_max_mm,touches\nK1,upper,1,2.5,none\nK1,lower,1,2,ridge|border\nK2,upper,1.5,2,\n",
	"visits.csv":     "visit_id,case_id,day,arch,adjusted,complaints\nV1,K1,25,both,yes,sore|loose\nV2,K1,40,,no,\n",
	"sore_spots.csv": "visit_id,arch,zone,grade\nV1,lower,retromolar_pad,2\nV1,upper,tuberosity,1\n",
	"remakes.csv":    "case_id,arch,day,scope,cause\nK1,lower,200,reline,fit\n",
}

// with returns small with file's text changed from old to new; an old of "" stands
// for the whole text.
func with(t testing.TB, file, old, new string) map[string]string {
	t.Helper()
	files := maps.Clone(small)
	if old == "" {
		files[file] = new
		return files
	}
	require.Contains(t, files[file], old, "the test changes what is there")
	files[file] = strings.Replace(files[file], old, new, 1)
	return files
}

// write puts a bundle into a folder of the test's own.
func write(t testing.TB, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	return dir
}

// state is everything that a refused load must leave as it was.
func state(t testing.TB, st *store.Store) map[string]string {
	t.Helper()
	ctx := context.Background()
	print, err := st.Fingerprint(ctx)
	require.NoError(t, err)
	all := map[string]string{"fingerprint": print}
	for _, table := range []string{"loads", "balance", "set_aside", "flags", "meta", "history.cases", "history.visits"} {
		var n string
		require.NoError(t, st.DB().QueryRowContext(ctx, "SELECT count(*)::VARCHAR FROM "+table).Scan(&n))
		all[table] = n
	}
	return all
}

// load loads a bundle that must be accepted, with any number of rows set aside,
// and checks the whole ledger after it.
func load(t testing.TB, st *store.Store, files map[string]string) *LoadResult {
	t.Helper()
	res, err := Load(context.Background(), st, write(t, files), LoadOptions{SetAsideLimit: 1})
	require.NoError(t, err)
	report, err := st.Verify(context.Background())
	require.NoError(t, err)
	require.Empty(t, report.Problems)
	return res
}

// balance finds a table's balance in a result.
func balance(t testing.TB, res *LoadResult, table string) Balance {
	t.Helper()
	for _, b := range res.Balance {
		if b.Table == table {
			return b
		}
	}
	t.Fatalf("no balance of %s", table)
	return Balance{}
}
