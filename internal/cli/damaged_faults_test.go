//go:build faults

package cli

import (
	"context"
	"database/sql"
	"math/rand/v2"
	"os"
	"regexp"
	"strings"
	"testing"

	_ "github.com/duckdb/duckdb-go/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const damages = 60

var crash = regexp.MustCompile(`panic:|goroutine \d+ \[|SIGSEGV|fatal error|terminate called`)

// damaged breaks a store in many ways. The program never crashes and never prints
// the wrong content: it says that the store is damaged and what to do, or the damage
// is where nothing stands and all is as before.
func (k *known) damaged(t *testing.T) {
	whole, err := os.ReadFile(k.after)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(killSeed, 2))
	s := newSite(t, k.program, k.after)
	code, sound := s.verified()
	require.Equal(t, ExitOK, code)
	found, harmless := 0, 0
	for i := range damages {
		b, how := damage(r, whole, i)
		require.NoError(t, os.WriteFile(s.store, b, 0o644))
		code, printed := s.verified()
		require.NotRegexp(t, crash, printed, how)
		switch code {
		case ExitOK:
			harmless++
			require.Equal(t, sound, printed, how)
		case ExitStore:
			found++
			require.Regexp(t, `restore it|restore a copy|is not a DuckDB file|no afterfit store`, printed, how)
			require.Less(t, strings.Count(printed, "\n"), 40, "a sentence, not a trace: "+printed)
		default:
			t.Errorf("%s: exit code %d: %s", how, code, printed)
		}
		if i%10 == 0 { // a load into it neither
			code, said := s.run("load", k.export)
			require.Contains(t, []int{ExitOK, ExitStore}, code, "%s: %s", how, said)
			require.NotRegexp(t, crash, said, how)
		}
		require.NoError(t, os.RemoveAll(s.store+".wal"))
	}
	t.Logf("damaged %d times: %d times it was found, %d times it did not touch what is stored", damages, found, harmless)
	assert.Positive(t, found)
	k.otherFiles(t, s)
}

// verified runs verify and returns all that it printed.
func (s *site) verified() (int, string) {
	s.t.Helper()
	cmd, said := s.command("verify")
	out, _ := cmd.Output() // the exit code says it
	return cmd.ProcessState.ExitCode(), string(out) + said.String()
}

// damage flips, overwrites or cuts bytes; a third of the flips hit the head of the
// file, where a single one matters most.
func damage(r *rand.Rand, whole []byte, i int) ([]byte, string) {
	b := append([]byte{}, whole...)
	switch {
	case i == 0:
		return nil, "no bytes at all"
	case i%6 == 1:
		n := r.IntN(len(b))
		return b[:n], "cut off"
	case i%6 == 2:
		at, n := r.IntN(len(b)), 1+r.IntN(8192)
		for j := at; j < min(at+n, len(b)); j++ {
			b[j] = byte(r.IntN(256))
		}
		return b, "a stretch overwritten"
	case i%6 == 3:
		at := r.IntN(12288)
		b[at] ^= 1 << r.IntN(8)
		return b, "a bit of the head"
	}
	for range 1 + r.IntN(5) {
		b[r.IntN(len(b))] ^= 1 << r.IntN(8)
	}
	return b, "some bits"
}

// otherFiles puts in the store's place what is no store, or not one of this program.
func (k *known) otherFiles(t *testing.T, s *site) {
	for name, c := range map[string]struct {
		make func(path string)
		want string
	}{
		"text":    {func(p string) { require.NoError(t, os.WriteFile(p, []byte(strings.Repeat("case_id\n", 100)), 0o600)) }, "is not a DuckDB file"},
		"zeros":   {func(p string) { require.NoError(t, os.WriteFile(p, make([]byte, 1<<16), 0o600)) }, "is not a DuckDB file"},
		"folder":  {func(p string) { require.NoError(t, os.Mkdir(p, 0o700)) }, "is a folder"},
		"foreign": {func(p string) { query(t, p, "CREATE TABLE weather (day DATE)") }, "is a DuckDB file but no afterfit store"},
		"newer": {func(p string) {
			copyFile(t, k.after, p)
			query(t, p, "UPDATE meta SET value = '99' WHERE key = 'schema_version'")
		}, "has schema version 99"},
		"a table lost": {func(p string) { copyFile(t, k.after, p); query(t, p, "DROP TABLE main.trays") }, "restore"},
		"rows lost": {func(p string) {
			copyFile(t, k.after, p)
			query(t, p, "DELETE FROM main.trays WHERE case_id = 'K00000001'")
		}, "does not agree with its ledger"},
	} {
		require.NoError(t, os.RemoveAll(s.store))
		c.make(s.store)
		code, printed := s.verified()
		assert.Equal(t, ExitStore, code, "%s: %s", name, printed)
		assert.Contains(t, printed, c.want, name)
		assert.NotRegexp(t, crash, printed, name)
	}
}

func query(t *testing.T, path, q string) {
	t.Helper()
	db, err := sql.Open("duckdb", path)
	require.NoError(t, err)
	_, err = db.ExecContext(context.Background(), q)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	require.NoFileExists(t, path+".wal")
}
