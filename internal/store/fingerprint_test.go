package store

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
)

// TestKnownFingerprintFollowsTheLedger: the note holds as long as the loads do, and a
// change past the ledger that keeps the number of rows is what Verify finds.
func TestKnownFingerprintFollowsTheLedger(t *testing.T) {
	ctx := t.Context()
	st := open(t, "", Options{})
	run := func(q string) {
		_, err := st.DB().Exec(q)
		require.NoError(t, err)
	}
	known := func() string {
		f, err := st.KnownFingerprint(ctx)
		require.NoError(t, err)
		return f
	}
	problems := func() []string {
		r, err := st.Verify(ctx)
		require.NoError(t, err)
		return r.Problems
	}
	empty := known()
	run("INSERT INTO loads (load_id, content_sha256) VALUES (1, 'a'); INSERT INTO remakes VALUES ('K1', 'upper', 3, 'reline', NULL, 1)")
	one := known()
	made, err := st.Fingerprint(ctx)
	require.NoError(t, err)
	assert.Equal(t, made, one)
	assert.NotEqual(t, empty, one)
	const changed = "the rows are not those of which the store noted the fingerprint: they were changed past the ledger"
	assert.NotContains(t, problems(), changed)
	run("UPDATE remakes SET day = 4")
	assert.Equal(t, one, known(), "the note is taken at its word")
	assert.Contains(t, problems(), changed)
	run("INSERT INTO loads (load_id, content_sha256) VALUES (2, 'b'); INSERT INTO remakes VALUES ('K2', 'upper', 3, 'reline', NULL, 2)")
	assert.NotEqual(t, one, known(), "a load makes the note void")
	assert.Contains(t, problems(), changed, "a load on top does not hide it")
	run("UPDATE remakes SET day = 3 WHERE load_id = 1")
	assert.NotContains(t, problems(), changed)
}

// TestFingerprintFollowsLoads: the sums noted are brought up to date by what loads brought
// and replaced, and by nothing else; where that does not add up, and after an undone load,
// all rows are read again.
func TestFingerprintFollowsLoads(t *testing.T) {
	ctx := t.Context()
	st := open(t, "", Options{})
	run := func(q string) {
		_, err := st.DB().Exec(q)
		require.NoError(t, err)
	}
	// both gives the known fingerprint and the one of all rows.
	both := func() (known, whole string) {
		known, err := st.KnownFingerprint(ctx)
		require.NoError(t, err)
		whole, err = st.Fingerprint(ctx)
		require.NoError(t, err)
		return known, whole
	}
	agree := func(why string) {
		known, whole := both()
		assert.Equal(t, whole, known, why)
	}
	run("INSERT INTO loads (load_id, content_sha256) VALUES (1, 'a'); INSERT INTO remakes VALUES ('K1', 'upper', 3, 'reline', NULL, 1), ('K2', 'upper', 5, 'reline', NULL, 1)")
	agree("from nothing")
	run(`INSERT INTO loads (load_id, content_sha256) VALUES (2, 'b'), (3, 'c');
	INSERT INTO history.remakes VALUES ('K1', 'upper', 3, 'reline', NULL, 1, 2), ('K1', 'upper', 4, 'reline', NULL, 2, 3);
	DELETE FROM remakes WHERE case_id = 'K1'; INSERT INTO remakes VALUES ('K1', 'upper', 6, 'remake', 'fit', 3), ('K3', 'lower', 6, 'remake', 'fit', 2)`)
	// A row that is another while this is worked out shows that it is not read.
	run("UPDATE remakes SET day = 99 WHERE case_id = 'K2'")
	known, whole := both()
	assert.NotEqual(t, whole, known)
	run("UPDATE remakes SET day = 5 WHERE case_id = 'K2'")
	_, whole = both()
	assert.Equal(t, whole, known, "two loads, of which the second replaces what the first had put in place of another")
	run("UPDATE remakes SET day = 9 WHERE load_id = 2; INSERT INTO loads (load_id, content_sha256) VALUES (4, 'd'); INSERT INTO remakes VALUES ('K4', 'lower', 6, 'remake', 'fit', 4)")
	known, whole = both()
	assert.NotEqual(t, whole, known, "only what load 4 brought was read")
	run("INSERT INTO undone VALUES (4, NULL); DELETE FROM remakes WHERE load_id = 4")
	agree("after an undone load")
	run("INSERT INTO remakes VALUES ('K9', 'lower', 6, 'remake', 'fit', 2); INSERT INTO loads (load_id, content_sha256) VALUES (5, 'e')")
	agree("a row past the ledger")
}

// TestRowsThatDifferReadDifferently: neighbouring cells must not run into each other, and
// nothing recorded is neither an empty text nor a dash.
func TestRowsThatDifferReadDifferently(t *testing.T) {
	st := open(t, "", Options{})
	for i, row := range []string{
		"'K1', 'upper', 3, 'reline', NULL", "'K1', 'upper', 3, 'reline', ''", "'K1', 'upper', 3, 'reline', '-'", "'K1', 'upper', NULL, 'reline', NULL",
		"'K1', 'upper', 0, 'reline', NULL", "'K', '1upper', 3, 'reline', NULL", "'K1', 'upper', 3, NULL, 'reline'", "'K1,5:upper', NULL, 3, 'reline', NULL", "'K1,5:', 'upper', 3, 'reline', NULL",
	} {
		_, err := st.DB().Exec(fmt.Sprintf("INSERT INTO remakes VALUES (%s, %d)", row, i))
		require.NoError(t, err)
	}
	for _, table := range bundle.Tables {
		if table.Name == "remakes" {
			var rows, texts int
			require.NoError(t, st.DB().QueryRow("SELECT count(*), count(DISTINCT "+rowText(table)+") FROM remakes").Scan(&rows, &texts))
			assert.Equal(t, 9, rows)
			assert.Equal(t, rows, texts)
		}
	}
}
