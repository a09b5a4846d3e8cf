package intake

import (
	"context"
	"errors"
	"fmt"
	"hash/maphash"
	"math/rand/v2"
	"slices"
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
			err := parentsFirst(context.Background(), tables, workers, func(_ context.Context, g *stage) error {
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

// TestIndexNumbersKeysInTheOrderInWhichTheyCome holds an index to a map, for keys that
// count up, with zeros in front or without, that count up until one comes again or late,
// and that come in any order.
func TestIndexNumbersKeysInTheOrderInWhichTheyCome(t *testing.T) {
	up := func(form string) (keys []string) {
		for i := range 5000 {
			keys = append(keys, fmt.Sprintf(form, 3*i))
		}
		return keys
	}
	shuffled := up("V%d")
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	for name, c := range map[string]struct {
		keys   []string
		hashed bool
	}{
		"up": {up("V%06d"), false}, "up without zeros": {up("V%d"), false}, "each twice": {slices.Repeat([]string{"A", "B"}, 2), true},
		"one again": {slices.Concat(up("V%d"), []string{"V3"}, up("W%d")), true}, "one late": {slices.Concat(up("V%d"), []string{"V4"}, up("W%d")), true},
		"one shorter": {slices.Concat(up("V%d"), []string{"", "V"}), true}, "any order": {slices.Concat(shuffled, shuffled), true},
		"twice in a row": {[]string{"A", "A", "B", "B"}, false},
	} {
		t.Run(name, func(t *testing.T) {
			x, want := newIndex(maphash.MakeSeed()), map[string]uint32{}
			if len(name)%2 == 0 { // not always said beforehand
				x.reserve(int64(len(c.keys) / 2))
			}
			for _, key := range c.keys {
				at, known := want[key]
				if !known {
					at = uint32(len(want)) //nolint:gosec // few
					want[key] = at
				}
				n, isNew := x.add([]byte(key))
				require.Equal(t, at, n, key)
				require.Equal(t, !known, isNew, key)
			}
			assert.Equal(t, c.hashed, x.slots != nil)
			assert.Equal(t, len(want), x.len())
			var near keyCursor
			for key, at := range want {
				n, known := x.find([]byte(key), &near)
				require.True(t, known, key)
				require.Equal(t, at, n, key)
				require.Equal(t, key, string(x.key(n)))
			}
			for _, key := range []string{"V1", "V00000", "U", "V9999999", "X"} {
				_, known := x.find([]byte(key), &near)
				assert.False(t, known, key)
			}
		})
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
			var near keyCursor
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
