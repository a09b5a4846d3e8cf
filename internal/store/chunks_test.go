package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// manyRows are enough for several groups of rows, which threads of the database share out.
const manyRows = 300_000

// conn pins a connection of a store.
func conn(t testing.TB, st *Store) *sql.Conn {
	t.Helper()
	c, err := st.DB().Conn(context.Background())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, c.Close()) })
	return c
}

func run(t testing.TB, c *sql.Conn, statement string) {
	t.Helper()
	_, err := c.ExecContext(context.Background(), statement)
	require.NoError(t, err)
}

// wordOf is the text of a row: none, empty, short, longer than the database keeps beside its
// length, and not ASCII. SQL says the same in wordSQL.
func wordOf(i int64) string {
	switch i % 5 {
	case 2:
		return fmt.Sprintf("k%d", i)
	case 3:
		return fmt.Sprintf("a key that is longer than twelve bytes %d", i)
	case 4:
		return fmt.Sprintf("Zähne 義歯 %d", i)
	}
	return ""
}

const wordSQL = `CASE i % 5 WHEN 1 THEN '' WHEN 2 THEN 'k' || i WHEN 3 THEN 'a key that is longer than twelve bytes ' || i WHEN 4 THEN 'Zähne 義歯 ' || i END`

// TestChunksHandsOverEveryRowOnce: with one thread and with two, from a table of several
// groups of rows, with texts and numbers of all kinds and without.
func TestChunksHandsOverEveryRowOnce(t *testing.T) {
	for _, threads := range []int{1, 2} {
		for _, path := range []string{"", filepath.Join(t.TempDir(), "s.duckdb")} {
			st := open(t, path, Options{Threads: threads})
			c := conn(t, st)
			run(t, c, fmt.Sprintf("CREATE TABLE many AS SELECT i, CASE WHEN i %% 3 > 0 THEN i * 40000000000 - 7 END AS n, %s AS word FROM range(%d) r(i)", wordSQL, manyRows))
			seen, numbers := make([]int, manyRows), []int64(nil)
			err := Chunks(context.Background(), c, "SELECT word, i, n FROM many", []string{"i", "word", "n"}, func(k Chunk) error {
				is, words := k.Ints(0, nil, -1), k.Texts(1)
				numbers = k.Ints(2, numbers, math.MinInt64)
				if len(is) != k.Len() || len(numbers) != k.Len() {
					return fmt.Errorf("%d and %d numbers of %d rows", len(is), len(numbers), k.Len())
				}
				for row, i := range is {
					seen[i]++
					want := i*40000000000 - 7
					if i%3 == 0 {
						want = math.MinInt64
					}
					if numbers[row] != want || words.At(row) != wordOf(i) {
						return fmt.Errorf("row %d is %d and %q", i, numbers[row], words.At(row))
					}
				}
				return nil
			})
			require.NoError(t, err)
			assert.Equal(t, -1, slices.IndexFunc(seen, func(n int) bool { return n != 1 }), "each row comes once")
		}
	}
}

// TestChunksOfAnyQuery: constants, joins, sums, orders, and no rows at all.
func TestChunksOfAnyQuery(t *testing.T) {
	c := conn(t, open(t, "", Options{Threads: 2}))
	for query, want := range map[string][2]int64{ // rows, and the sum of the numbers
		"SELECT CAST(1 AS BIGINT) AS n, 'x' AS word FROM range(5000)":                                      {5000, 5000},
		"SELECT i AS n, 'x' AS word FROM range(5000) r(i) ORDER BY n DESC LIMIT 3":                         {3, 4999 + 4998 + 4997},
		"SELECT i AS n, 'x' AS word FROM range(5000) r(i) WHERE i < 0":                                     {0, 0},
		"SELECT CAST(count(*) AS BIGINT) AS n, 'x' AS word FROM range(10000) r(i) GROUP BY i % 3000":       {3000, 10000},
		"SELECT a.i AS n, 'x' AS word FROM range(3000) a(i) JOIN range(2000) b(j) ON a.i = b.j":            {2000, 1999 * 1000},
		"SELECT i AS n, 'x' AS word FROM range(2000) r(i) UNION ALL SELECT i, 'x' FROM range(4000) r(i) ":  {6000, 1999*1000 + 3999*2000},
		"WITH w AS MATERIALIZED (SELECT i FROM range(2049) r(i)) SELECT i AS n, 'x' AS word FROM w -- end": {2049, 2048 * 2049 / 2},
	} {
		var rows, sum int64
		err := Chunks(context.Background(), c, query, []string{"n", "word"}, func(k Chunk) error {
			words := k.Texts(1)
			for row, n := range k.Ints(0, nil, -1) {
				if words.At(row) != "x" {
					return fmt.Errorf("word %q", words.At(row))
				}
				rows, sum = rows+1, sum+n
			}
			return nil
		})
		require.NoError(t, err, query)
		assert.Equal(t, want, [2]int64{rows, sum}, query)
	}
}

// TestChunksEndsWithTheFirstError: of take, as it is; of a panic, in words; of the statement.
// The connection goes on.
func TestChunksEndsWithTheFirstError(t *testing.T) {
	for _, threads := range []int{1, 2} {
		c := conn(t, open(t, "", Options{Threads: threads}))
		run(t, c, fmt.Sprintf("CREATE TABLE many AS SELECT i, 'w' AS word FROM range(%d) r(i)", manyRows))
		ctx, mine := context.Background(), errors.New("not like that")
		calls := 0
		fail := func(Chunk) error {
			if calls++; calls == 3 {
				return mine
			}
			return nil
		}
		err := Chunks(ctx, c, "SELECT i FROM many", []string{"i"}, fail)
		assert.Same(t, mine, err, "it is no other error about it") //nolint:testifylint // identity is what is promised
		assert.Equal(t, 3, calls, "nothing is handed over behind it")

		for name, take := range map[string]func(Chunk) error{
			"index out of range":   func(k Chunk) error { _ = []int{}[k.Len()]; return nil },
			"INTEGER":              func(k Chunk) error { k.Texts(1); return nil },
			"expected 4, got 10":   func(k Chunk) error { k.Ints(9, nil, 0); return nil },
			"expected 4, got 8":    func(k Chunk) error { k.Texts(7); return nil },
			"row index":            func(k Chunk) error { k.Texts(2).At(k.Len()); return nil },
			"while rows were take": func(Chunk) error { panic("oh") },
		} {
			err = Chunks(ctx, c, "SELECT i, CAST(i AS INTEGER) AS small, word FROM many", []string{"i", "small", "word"}, take)
			require.Error(t, err, name)
			assert.Contains(t, err.Error(), "while rows were taken: ")
			assert.Contains(t, err.Error(), name)
		}

		taken := func(Chunk) error { return nil }
		assert.ErrorContains(t, Chunks(ctx, c, "SELECT i FROM nowhere", []string{"i"}, taken), "nowhere")
		assert.ErrorContains(t, Chunks(ctx, c, "SELECT i FROM many", []string{"j"}, taken), "j")
		assert.ErrorContains(t, Chunks(ctx, c, "SELECT CAST(word AS BIGINT) AS n FROM many", []string{"n"}, taken), "Conversion")
		assert.NoError(t, Chunks(ctx, c, "SELECT i FROM many", []string{"i"}, taken))
	}
}

// TestChunksEndsWithTheContext: before and while rows are taken.
func TestChunksEndsWithTheContext(t *testing.T) {
	c := conn(t, open(t, "", Options{Threads: 2}))
	run(t, c, fmt.Sprintf("CREATE TABLE many AS SELECT i FROM range(%d) r(i)", manyRows))
	over, cancel := context.WithCancel(context.Background())
	cancel()
	require.ErrorIs(t, Chunks(over, c, "SELECT i FROM many", []string{"i"}, func(Chunk) error { return errors.New("called") }), context.Canceled)

	ctx, cancel := context.WithCancel(context.Background())
	calls := 0
	err := Chunks(ctx, c, "SELECT i FROM many", []string{"i"}, func(Chunk) error { calls++; cancel(); return nil })
	require.ErrorIs(t, err, context.Canceled)
	assert.Less(t, calls, 20, "of %d chunks", manyRows/2048)

	ctx, cancel = context.WithTimeout(context.Background(), 20*time.Millisecond)
	defer cancel()
	err = Chunks(ctx, c, "SELECT a.i FROM many a, many b WHERE a.i + b.i < 0", []string{"i"}, func(Chunk) error { return nil })
	require.ErrorIs(t, err, context.DeadlineExceeded)
	assert.NoError(t, Chunks(context.Background(), c, "SELECT i FROM many", []string{"i"}, func(Chunk) error { return nil }))
}

// TestChunksSeesItsTransaction: rows that are not yet committed are seen on their connection,
// and nowhere else; and two connections take rows at once, each its own.
func TestChunksSeesItsTransaction(t *testing.T) {
	st := open(t, filepath.Join(t.TempDir(), "s.duckdb"), Options{Threads: 2})
	other := conn(t, st)
	run(t, other, "CREATE TABLE few AS SELECT i FROM range(10) r(i)")
	count := func(c *sql.Conn) (n, sum int64) {
		assert.NoError(t, Chunks(context.Background(), c, "SELECT i FROM few", []string{"i"}, func(k Chunk) error {
			for _, i := range k.Ints(0, nil, -1) {
				n, sum = n+1, sum+i
			}
			return nil
		}))
		return n, sum
	}
	require.NoError(t, st.Tx(context.Background(), func(ctx context.Context, c *sql.Conn) error {
		run(t, c, "INSERT INTO few SELECT i FROM range(100000) r(i)")
		var wg sync.WaitGroup
		for range 8 {
			wg.Go(func() {
				n, sum := count(other)
				assert.Equal(t, [2]int64{10, 45}, [2]int64{n, sum})
			})
			n, sum := count(c)
			assert.Equal(t, [2]int64{100_010, 45 + 99_999*50_000}, [2]int64{n, sum})
			wg.Wait()
		}
		return ctx.Err()
	}))
	n, _ := count(other)
	assert.EqualValues(t, 100_010, n)
}

// TestTakingNeedsSomebody: the function is there in every session of a store, and says that
// it is of no use by itself.
func TestTakingNeedsSomebody(t *testing.T) {
	ctx := context.Background()
	c := conn(t, open(t, "", Options{}))
	number, done := (&taker{ctx: ctx}).known()
	done() // and is forgotten
	for _, with := range []string{"", "i", "CAST(0 AS BIGINT), i", "'x', i", number + ", i"} {
		_, err := c.ExecContext(ctx, "SELECT count(afterfit_take("+with+")) FROM range(3) r(i)")
		require.ErrorContains(t, err, "nobody takes these rows", with)
	}
	_, err := c.ExecContext(ctx, "SELECT 1")
	require.NoError(t, err)
}

// TestChunksOfAnyStore: in files opened for reading only, closed and opened again, or opened
// again while they are open, and in memory, several at a time in one process.
func TestChunksOfAnyStore(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.duckdb")
	sum := func(st *Store) (sum int64) {
		c, err := st.DB().Conn(context.Background())
		require.NoError(t, err)
		defer func() { require.NoError(t, c.Close()) }()
		require.NoError(t, Chunks(context.Background(), c, "SELECT i FROM few", []string{"i"}, func(k Chunk) error {
			for _, i := range k.Ints(0, nil, -1) {
				sum += i
			}
			return nil
		}))
		return sum
	}
	for round := range 4 {
		st, err := Open(context.Background(), path, Options{})
		require.NoError(t, err)
		again := st
		if round%2 == 1 { // both are one database
			again, err = Open(context.Background(), path, Options{})
			require.NoError(t, err)
		}
		c, err := st.DB().Conn(context.Background())
		require.NoError(t, err)
		run(t, c, "CREATE OR REPLACE TABLE few (i BIGINT)")
		run(t, c, fmt.Sprintf("INSERT INTO few SELECT i + %d FROM range(5000) r(i)", round))
		require.NoError(t, c.Close())
		assert.EqualValues(t, 4999*2500+5000*round, sum(again))
		assert.EqualValues(t, 4999*2500+5000*round, sum(st))
		require.NoError(t, errors.Join(again.Close(), st.Close()))
	}
	_, one := takers.Load(lastTaker.Load())
	assert.False(t, one, "nothing stays behind")
	read, memory := open(t, path, Options{ReadOnly: true}), open(t, "", Options{})
	c := conn(t, memory)
	run(t, c, "CREATE TABLE few (i BIGINT)")
	run(t, c, "INSERT INTO few FROM range(7)")
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() { assert.EqualValues(t, 21, sum(memory)) })
		wg.Go(func() { assert.EqualValues(t, 4999*2500+15000, sum(read)) })
	}
	wg.Wait()
}
