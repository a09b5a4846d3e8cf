package review

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"sync"
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

// shared is the clean bundle, loaded once for the tests that only read; each asker has
// a connection, and so temporary tables, of its own. reviewed is its whole review with
// one change stated.
var shared struct {
	once, reviewOnce sync.Once
	st               *store.Store
	review           *Findings
	told             []told
}

func TestMain(m *testing.M) {
	code := m.Run()
	if shared.st != nil {
		if err := shared.st.Close(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	os.Exit(code)
}

// cleanStore is for tests that do not write and use the settings' own links.
func cleanStore(t testing.TB) *store.Store {
	t.Helper()
	shared.once.Do(func() {
		ctx := context.Background()
		st, err := store.Open(ctx, "", store.Options{})
		require.NoError(t, err)
		_, err = intake.Load(ctx, st, clean, intake.LoadOptions{Strict: true})
		require.NoError(t, err)
		shared.st = st
	})
	require.NotNil(t, shared.st, "an earlier test could not load the clean bundle")
	return shared.st
}

// told is what a review told of how far it was.
type told struct {
	stage       string
	done, total int
}

// TestAReviewTellsHowFarItIs: stages come one after the other, and within one the steps
// grow and do not go beyond what was said.
func TestAReviewTellsHowFarItIs(t *testing.T) {
	cleanReview(t)
	seen := map[string]bool{}
	var last told
	for _, at := range shared.told {
		if at.stage != last.stage {
			assert.False(t, seen[at.stage], "%q comes back", at.stage)
			seen[at.stage] = true
		} else {
			assert.Greater(t, at.done, last.done, at.stage)
			assert.Equal(t, last.total, at.total, at.stage)
		}
		assert.GreaterOrEqual(t, at.done, 0, at.stage)
		assert.Less(t, at.done, at.total, at.stage)
		last = at
	}
	assert.GreaterOrEqual(t, len(seen), 8)
	assert.True(t, seen["habits beside outcomes"])
}

// cleanReview is not to be changed by who asks for it.
func cleanReview(t testing.TB) *Findings {
	t.Helper()
	st := cleanStore(t)
	shared.reviewOnce.Do(func() {
		f, err := Run(context.Background(), st, changed(), Header{Progress: func(stage string, done, total int) {
			shared.told = append(shared.told, told{stage, done, total})
		}})
		require.NoError(t, err)
		shared.review = f
	})
	require.NotNil(t, shared.review, "an earlier test could not review the clean bundle")
	return shared.review
}

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
	st, f := cleanStore(t), cleanReview(t)
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
	_, err := Ask(ctx, st, DefaultSettings(), "nothing")
	assert.Error(t, err)
}
