package intake

import (
	"context"
	"errors"
	"fmt"
	"hash/maphash"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
)

// TestSideBySideParentsFirst: with any number of workers every table is looked at once,
// after its parent's look has ended; and an error ends the looks without a table whose
// parent failed.
func TestSideBySideParentsFirst(t *testing.T) {
	var tables []*stage
	for i, tb := range bundle.Tables {
		tables = append(tables, &stage{t: tb, sheet: &Sheet{Records: int64(i)}})
	}
	for workers := 1; workers <= len(tables)+1; workers++ {
		for _, bad := range []string{"", "cases", "visits", "remakes"} {
			var mu sync.Mutex
			ended := map[string]bool{}
			err := sideBySide(context.Background(), tables, workers, func(_ context.Context, g *stage) error {
				if g.t.Parent == "" {
					time.Sleep(time.Millisecond) // whoever does not wait comes before
				}
				mu.Lock()
				defer mu.Unlock()
				assert.False(t, ended[g.t.Name], "twice")
				assert.True(t, g.t.Parent == "" || ended[g.t.Parent], g.t.Name)
				if g.t.Name == bad {
					return errors.New("bad")
				}
				ended[g.t.Name] = true
				return nil
			})
			if bad == "" {
				require.NoError(t, err)
				assert.Len(t, ended, len(tables))
				continue
			}
			require.EqualError(t, err, "bad")
			assert.Less(t, len(ended), len(tables))
		}
	}
}

// TestParentNumbersKeysOnce: several children at once give a key the same number, one of
// the parent's own or one behind them, and the number gives the key.
func TestParentNumbersKeysOnce(t *testing.T) {
	seed := maphash.MakeSeed()
	p := &parent{index: newIndex(seed), strays: newIndex(seed)}
	const own, all = 1000, 1500
	key := func(i int) []byte { return fmt.Appendf(nil, "K%d", i) }
	for i := range own {
		n, isNew := p.add(key(i))
		require.True(t, isNew)
		require.Equal(t, uint32(i), n) //nolint:gosec // small
	}
	numbers := make([][all]uint32, 4)
	var children sync.WaitGroup
	for c := range numbers {
		children.Go(func() {
			near := uint32(0)
			for j := range all {
				i := (j*7 + 300*c) % all
				numbers[c][i] = p.find(key(i), &near)
				assert.Equal(t, key(i), p.key(numbers[c][i]))
			}
		})
	}
	children.Wait()
	had := map[uint32]bool{}
	for i := range all {
		n := numbers[0][i]
		assert.Equal(t, i < own, int(n) < own)
		assert.False(t, had[n])
		had[n] = true
		for c := range numbers {
			assert.Equal(t, n, numbers[c][i])
		}
	}
}
