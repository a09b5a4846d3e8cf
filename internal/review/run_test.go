package review

import (
	"context"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/intake"
	"afterfit/internal/store"
)

// loaded opens a store in memory and loads the bundles into it, in order.
func loaded(t testing.TB, threads int, bundles ...string) *store.Store {
	t.Helper()
	ctx := context.Background()
	st, err := store.Open(ctx, "", store.Options{Threads: threads, TempDir: t.TempDir()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, st.Close()) })
	for _, b := range bundles {
		_, err = intake.Load(ctx, st, b, intake.LoadOptions{Strict: true})
		require.NoError(t, err)
	}
	return st
}

const clean = "../../testdata/bundles/clean"

// TestSameBytesOnAnyThreadCount holds the rule "same input, same bytes".
func TestSameBytesOnAnyThreadCount(t *testing.T) {
	var first []byte
	for _, threads := range []int{1, 4} {
		st := loaded(t, threads, clean)
		f, err := Run(context.Background(), st, DefaultSettings(), Header{Version: "test"})
		require.NoError(t, err)
		var found *Findings
		if threads == 1 { // what a review found and what the summaries find by themselves must be the same too
			found = f
		}
		sums, err := Summaries(context.Background(), st, DefaultSettings(), Header{Version: "test"}, nil, found)
		require.NoError(t, err)
		raw, err := json.Marshal([]any{f, sums})
		require.NoError(t, err)
		if first == nil {
			first = raw
		}
		assert.JSONEq(t, string(first), string(raw), "%d threads", threads)
	}
}

func TestEveryQuestionAnswers(t *testing.T) {
	ctx := context.Background()
	st := loaded(t, 0, clean)
	f, err := Run(ctx, st, changed(), Header{})
	require.NoError(t, err)
	for _, q := range Questions() {
		if q.table != nil && q.Name != "headlines" { // one goes the whole way, the others share its review
			rows := q.table(f)
			assert.NotEmpty(t, rows, q.Name)
			for _, r := range rows {
				assert.Len(t, spread(r), len(q.columns), q.Name)
			}
			continue
		}
		tab, err := Ask(ctx, st, DefaultSettings(), q.Name)
		require.NoError(t, err, q.Name)
		for _, r := range tab.Rows {
			assert.Len(t, r, len(tab.Columns), q.Name)
		}
		assert.Equal(t, q.Name != "set-aside" && q.Name != "cleared", len(tab.Rows) > 0, q.Name)
	}
	_, err = Ask(ctx, st, DefaultSettings(), "nothing")
	assert.Error(t, err)
}
