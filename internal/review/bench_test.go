package review

import (
	"context"
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
	"afterfit/internal/store"
)

// service loads the invented service at its default size: 4,000 cases.
func service(t testing.TB) *store.Store {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{}))
	return loaded(t, 2, dir)
}

func BenchmarkLink(b *testing.B) {
	ctx := context.Background()
	st := service(b)
	for b.Loop() {
		require.NoError(b, st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error { return link(ctx, c, DefaultSettings()) }))
	}
}

func BenchmarkRun(b *testing.B) {
	ctx := context.Background()
	st := service(b)
	for b.Loop() {
		_, err := Run(ctx, st, DefaultSettings(), Header{})
		require.NoError(b, err)
	}
}

func BenchmarkSummaries(b *testing.B) {
	ctx := context.Background()
	st := service(b)
	for b.Loop() {
		_, err := Summaries(ctx, st, DefaultSettings(), Header{}, nil, nil)
		require.NoError(b, err)
	}
}
