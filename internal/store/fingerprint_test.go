package store

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
	run("INSERT INTO loads (load_id, content_sha256) VALUES (2, 'b')")
	assert.NotEqual(t, one, known(), "a load makes the note void")
	assert.NotContains(t, problems(), changed)
}
