package intake

import (
	"hash/maphash"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/privacy"
)

// TestKeysAreShownToTheChecks: the checks get the keys of a shape from the look-through
// where each stands in one row, and not where some stand in more.
func TestKeysAreShownToTheChecks(t *testing.T) {
	seed := maphash.MakeSeed()
	s, keys := newSpans(seed), newIndex(seed)
	for _, key := range []string{"V1", "z-1", "a-2", "z-0", "c---1", "c---1"} {
		_, isNew := keys.add([]byte(key))
		s.add([]byte(key), true, isNew)
	}
	s.keep(keys)
	list, ok := s.values([]string{"a-9"})
	assert.True(t, ok)
	assert.Equal(t, []privacy.Value{{Text: "z-1", Rows: 1}, {Text: "a-2", Rows: 1}, {Text: "z-0", Rows: 1}}, list)
	_, ok = s.values([]string{"a-9", "a---9"})
	assert.False(t, ok, "in more rows than one")

	sound := newSpans(seed)
	sound.add([]byte("V1"), true, true)
	sound.keep(keys)
	assert.Nil(t, sound.keys, "nothing to be seen")
}

// TestPeopleAmongKeysAreFound puts telephone numbers in the place of keys, the last of them
// twice.
func TestPeopleAmongKeysAreFound(t *testing.T) {
	for _, n := range []int{1, 2, 4} {
		last := min(n, 3) // of four, the third stands twice
		dir := t.TempDir()
		require.NoError(t, os.CopyFS(dir, os.DirFS(cleanBundle)))
		path := filepath.Join(dir, "visits.csv")
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		lines := strings.Split(string(text), "\n")
		require.True(t, strings.HasPrefix(lines[0], "visit_id,"))
		require.Greater(t, len(lines), n+1)
		for i := range n {
			_, rest, _ := strings.Cut(lines[1+i], ",")
			lines[1+i] = "+49 171 555019" + strconv.Itoa(min(i+1, last)) + "," + rest
		}
		require.NoError(t, os.WriteFile(path, []byte(strings.Join(lines, "\n")), 0o600))
		_, err = Load(t.Context(), newStore(t), dir, LoadOptions{TempDir: t.TempDir()})
		require.ErrorIs(t, err, ErrBadData)
		assert.Contains(t, err.Error(), "visits.csv: column visit_id: found telephone numbers")
		assert.Contains(t, err.Error(), "in "+strconv.Itoa(n)+" row")
	}
}
