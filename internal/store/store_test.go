package store

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// holdEnv makes the test binary open the named store and hold it until its
// standard input ends.
const holdEnv = "AFTERFIT_TEST_HOLD"

func TestMain(m *testing.M) {
	if path := os.Getenv(holdEnv); path != "" {
		st, err := Open(context.Background(), path, Options{})
		if err != nil {
			fmt.Println("failed:", err)
			os.Exit(1)
		}
		fmt.Println("held")
		_, _ = bufio.NewReader(os.Stdin).ReadByte()
		_ = st.Close()
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func open(t testing.TB, path string, opt Options) *Store {
	t.Helper()
	st, err := Open(context.Background(), path, opt)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	return st
}

func addCase(ctx context.Context, c *sql.Conn) error {
	_, err := c.ExecContext(ctx, "INSERT INTO main.cases (case_id, load_id) VALUES ('K1', 1)")
	return err
}

func countCases(t testing.TB, st *Store) (n int) {
	t.Helper()
	require.NoError(t, st.DB().QueryRow("SELECT count(*) FROM main.cases").Scan(&n))
	return n
}

func TestTxCommitsWhatWentWell(t *testing.T) {
	st := open(t, "", Options{})
	require.NoError(t, st.Tx(context.Background(), addCase))
	assert.Equal(t, 1, countCases(t, st))
}

func TestTxRollsBackOnErrorAndPanic(t *testing.T) {
	st := open(t, "", Options{})
	boom := errors.New("boom")
	err := st.Tx(context.Background(), func(ctx context.Context, c *sql.Conn) error { return errors.Join(addCase(ctx, c), boom) })
	assert.ErrorIs(t, err, boom)
	assert.PanicsWithValue(t, "out", func() {
		_ = st.Tx(context.Background(), func(ctx context.Context, c *sql.Conn) error { _ = addCase(ctx, c); panic("out") })
	})
	assert.Equal(t, 0, countCases(t, st))
}

// DuckDB's own commit of an aborted transaction reports success; the guard must
// find an error that the body swallowed.
func TestTxFindsASwallowedError(t *testing.T) {
	st := open(t, "", Options{})
	err := st.Tx(context.Background(), func(ctx context.Context, c *sql.Conn) error {
		if err := addCase(ctx, c); err != nil {
			return err
		}
		_, swallowed := c.ExecContext(ctx, "SELECT error('on purpose')")
		require.Error(t, swallowed)
		return nil
	})
	require.ErrorContains(t, err, "aborted by an earlier error, nothing was stored")
	assert.Equal(t, 0, countCases(t, st))
}

func TestTxDoesNotCommitAfterCancel(t *testing.T) {
	st := open(t, "", Options{})
	ctx, cancel := context.WithCancel(context.Background())
	err := st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		defer cancel()
		return addCase(ctx, c)
	})
	require.Error(t, err)
	assert.Equal(t, 0, countCases(t, st))
}

func TestFingerprintIsOfTheContentAlone(t *testing.T) {
	print := func(threads int, insert ...string) string {
		st := open(t, "", Options{Threads: threads})
		for _, q := range insert {
			_, err := st.DB().Exec(q)
			require.NoError(t, err)
		}
		f, err := st.Fingerprint(context.Background())
		require.NoError(t, err)
		require.Len(t, f, 64)
		return f
	}
	a := print(1, "INSERT INTO remakes VALUES ('K1', 'upper', 3, 'reline', NULL, 1), ('K2', 'lower', 4, 'reline', NULL, 1)")
	b := print(2, "INSERT INTO remakes VALUES ('K2', 'lower', 4, 'reline', NULL, 7)", "INSERT INTO remakes VALUES ('K1', 'upper', 3, 'reline', NULL, 9)")
	assert.Equal(t, a, b)
	assert.NotEqual(t, a, print(1, "INSERT INTO remakes VALUES ('K1', 'upper', 3, 'reline', '-', 1), ('K2', 'lower', 4, 'reline', NULL, 1)"))
	assert.NotEqual(t, a, print(1))
}

func TestDDLNeverComputesADefault(t *testing.T) {
	for _, step := range steps {
		for _, q := range step {
			assert.NotContains(t, strings.ToUpper(q), "DEFAULT", "a kill before the checkpoint would leave a file that does not open")
		}
	}
}

func TestVerifyNamesWhatIsWrong(t *testing.T) {
	st := open(t, "", Options{})
	_, err := st.DB().Exec("INSERT INTO cases (case_id, load_id) VALUES ('K1', 1), ('K1', 1); INSERT INTO dentures (case_id, load_id) VALUES ('K9', 1); INSERT INTO balance VALUES (1, 'cases', 3, 2, 0, 0, 1)")
	require.NoError(t, err)
	r, err := st.Verify(context.Background())
	require.NoError(t, err)
	for _, want := range []string{
		"cases: 3 rows were read, but 2 are accounted for", "cases: 1 loads whose own balance does not add up",
		"cases: 1 loads whose superseded rows are not all in the history", "cases: 1 keys that more than one row has",
		"dentures: 1 rows without their row in cases", "dentures: 1 rows of a load that is not in the ledger",
		"cases: 2 rows of a load that is not in the ledger", "dentures: 0 rows were read, but 1 are accounted for",
	} {
		assert.Contains(t, r.Problems, want)
	}
	assert.Len(t, r.Problems, 8)
}

func TestOpenExplainsWhatIsInTheWay(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string, mode os.FileMode) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(text), mode))
		return path
	}
	protected := filepath.Join(dir, "protected.duckdb")
	open(t, protected, Options{})
	require.NoError(t, os.Chmod(protected, 0o444))
	locked := filepath.Join(dir, "locked")
	require.NoError(t, os.Mkdir(locked, 0o555))
	foreign := filepath.Join(dir, "foreign.duckdb")
	makeForeign(t, foreign)
	newer := filepath.Join(dir, "newer.duckdb")
	makeNewer(t, newer)
	for path, want := range map[string]string{
		dir: "is a folder: name a file in it",
		file("a.csv", "case_id,arch\n1,2\n", 0o600):             "is not a DuckDB file: name another file; this one was left as it is",
		file("empty", "", 0o600):                                "is not a DuckDB file",
		file("torn.duckdb", "12345678DUCK then rubbish", 0o600): "DuckDB cannot open it",
		protected:                            "is read-only: make it writable",
		filepath.Join(locked, "x.duckdb"):    "is read-only: make it writable or choose another path",
		filepath.Join(dir, "no", "x.duckdb"): "does not exist: create the folder",
		filepath.Join(dir, "a#b"):            `the path holds the character '#': choose a path without`,
		filepath.Join(dir, "100%"):           `the path holds the character '%'`,
		filepath.Join(dir, "what?"):          `the path holds the character '?'`,
		foreign:                              "is a DuckDB file but no afterfit store: name another file",
		newer:                                "has schema version 99, this program knows up to " + strconv.Itoa(Version()) + ": use a newer afterfit",
	} {
		_, err := Open(context.Background(), path, Options{})
		require.Error(t, err, path)
		assert.ErrorIs(t, err, ErrUse, path)
		assert.Contains(t, err.Error(), want)
		assert.Contains(t, err.Error(), filepath.Base(path))
	}
	_, err := Open(context.Background(), filepath.Join(dir, "none.duckdb"), Options{ReadOnly: true})
	assert.ErrorIs(t, err, ErrUse)
	assert.ErrorContains(t, err, "does not exist: load an export first")
	_, err = Open(context.Background(), "", Options{Memory: "plenty"})
	assert.ErrorIs(t, err, ErrUse)
}

func makeForeign(t *testing.T, path string) {
	db, err := sql.Open("duckdb", path)
	require.NoError(t, err)
	_, err = db.Exec("CREATE TABLE stock (n INTEGER)")
	require.NoError(t, err)
	require.NoError(t, db.Close())
}

func makeNewer(t *testing.T, path string) {
	st, err := Open(context.Background(), path, Options{})
	require.NoError(t, err)
	require.NoError(t, st.Tx(context.Background(), func(ctx context.Context, c *sql.Conn) error { return st.SetMeta(ctx, c, versionKey, "99") }))
	require.NoError(t, st.Close())
}

func TestStoreReopensForReading(t *testing.T) {
	path := filepath.Join(t.TempDir(), "it's here.duckdb")
	st, err := Open(context.Background(), path, Options{})
	require.NoError(t, err)
	require.NoError(t, st.Tx(context.Background(), addCase))
	require.NoError(t, st.Close())
	again := open(t, path, Options{ReadOnly: true})
	assert.Equal(t, 1, countCases(t, again))
	_, err = again.DB().Exec("DELETE FROM cases")
	assert.ErrorContains(t, err, "read-only")
}

func TestStoreInUseByAnotherProcess(t *testing.T) {
	path := filepath.Join(t.TempDir(), "held.duckdb")
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), holdEnv+"="+path)
	in, err := child.StdinPipe()
	require.NoError(t, err)
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.Equal(t, "held\n", line)
	_, err = Open(context.Background(), path, Options{})
	assert.ErrorIs(t, err, ErrUse)
	assert.ErrorContains(t, err, fmt.Sprintf("is in use by process %d: close that program and try again", child.Process.Pid))
	require.NoError(t, in.Close())
	require.NoError(t, child.Wait())
	open(t, path, Options{})
}

// TestVerifyHoldsEveryLoadToItsRows: what is missing of one load is not made up for by
// another, and an undone load owes nothing but its absence.
func TestVerifyHoldsEveryLoadToItsRows(t *testing.T) {
	st := open(t, "", Options{})
	_, err := st.DB().Exec(`INSERT INTO loads (load_id) VALUES (1), (2), (3), (4); INSERT INTO undone (load_id) VALUES (4);
	INSERT INTO balance VALUES (1, 'cases', 2, 2, 0, 0, 0), (2, 'cases', 2, 1, 1, 0, 0), (3, 'cases', 1, 1, 0, 0, 1), (4, 'cases', 9, 9, 0, 0, 0);
	INSERT INTO cases (case_id, load_id) VALUES ('A', 1), ('B', 2), ('C', 3);
	INSERT INTO history.cases (case_id, load_id, superseded_by) VALUES ('C', 1, 3);
	INSERT INTO set_aside (load_id, table_name) VALUES (2, 'cases')`)
	require.NoError(t, err)
	problems := func(change string) []string {
		_, err := st.DB().Exec(change)
		require.NoError(t, err)
		r, err := st.Verify(context.Background())
		require.NoError(t, err)
		return r.Problems
	}
	require.Empty(t, problems("SELECT 1"))
	assert.Equal(t, []string{"cases: 2 loads whose kept rows are not all there"}, problems("UPDATE cases SET load_id = 2 WHERE case_id = 'A'"))
	assert.Equal(t, []string{"cases: 2 loads whose kept rows are not all there", "cases: 1 rows of a load that is not in the ledger"},
		problems("UPDATE cases SET load_id = 4 WHERE case_id = 'A'; UPDATE history.cases SET load_id = 2"))
	assert.Equal(t, []string{"cases: 2 loads whose rows set aside are not all there"},
		problems("UPDATE cases SET load_id = 1 WHERE case_id = 'A'; UPDATE history.cases SET load_id = 1; UPDATE balance SET set_aside = 1, kept = 1 WHERE load_id = 2; UPDATE set_aside SET load_id = 1"))
}
