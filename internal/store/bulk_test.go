package store

import (
	"context"
	"database/sql"
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestBulkEndsWithTheSettingsBefore: whatever a transaction came to, the threads that were
// asked for and the order of rows hold again after it; and no more threads are taken than
// the store may have.
func TestBulkEndsWithTheSettingsBefore(t *testing.T) {
	ctx := context.Background()
	s, err := Open(ctx, "", Options{Threads: 3})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	settings := func() (threads int, ordered bool) {
		require.NoError(t, s.DB().QueryRow("SELECT current_setting('threads'), current_setting('preserve_insertion_order')").Scan(&threads, &ordered))
		return threads, ordered
	}
	for _, c := range []struct{ ask, get int }{{0, 1}, {1, 1}, {2, 2}, {9, 3}} {
		for _, end := range []string{"SELECT 1", "SELECT no_such_column"} {
			some, cancel := context.WithCancel(ctx)
			done, err := s.Bulk(some, c.ask)
			require.NoError(t, err)
			err = s.Tx(some, func(ctx context.Context, conn *sql.Conn) error {
				require.NoError(t, Unordered(ctx, conn, true))
				threads, ordered := settings()
				assert.Equal(t, c.get, threads)
				assert.False(t, ordered)
				_, err := conn.ExecContext(ctx, end)
				cancel()
				return errors.Join(err, ctx.Err())
			})
			require.Error(t, err)
			require.NoError(t, done())
			threads, ordered := settings()
			assert.Equal(t, 3, threads)
			assert.True(t, ordered)
		}
	}
}

// TestOrderHoldsAgain: statements that may give rows in any order end with the function
// returned, also where they failed or were stopped.
func TestOrderHoldsAgain(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	s, err := Open(ctx, "", Options{Threads: 2})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	kept := func() (order bool) {
		require.NoError(t, s.DB().QueryRow("SELECT current_setting('preserve_insertion_order')").Scan(&order))
		return order
	}
	ordered, err := s.Unordered(ctx)
	require.NoError(t, err)
	assert.False(t, kept())
	require.Error(t, s.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		_, err := c.ExecContext(ctx, "SELECT no_such_column")
		cancel()
		return err
	}))
	require.NoError(t, ordered())
	assert.True(t, kept())
}
