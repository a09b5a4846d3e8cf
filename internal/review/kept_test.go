package review

import (
	"bytes"
	"compress/gzip"
	"context"
	"database/sql"
	"encoding/json"
	"io"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
	"afterfit/internal/intake"
	"afterfit/internal/store"
)

// TestFindingsAreKept: the second review of the same loads is the first one's, byte for
// byte; another setting, another load, damage and being asked to make a new one.
func TestFindingsAreKept(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	require.NoError(t, demo.Write(ctx, filepath.Join(dir, "one"), demo.Options{Cases: 60}))
	require.NoError(t, demo.Write(ctx, filepath.Join(dir, "two"), demo.Options{Cases: 90}))
	path := filepath.Join(dir, "a.duckdb")
	st, err := store.Open(ctx, path, store.Options{})
	require.NoError(t, err)
	load := func(export string) {
		_, err := intake.Load(ctx, st, filepath.Join(dir, export), intake.LoadOptions{SetAsideLimit: 1})
		require.NoError(t, err)
	}
	load("one")
	s := DefaultSettings()
	review := func(s Settings, fresh bool) (*Findings, string) {
		f, err := Reviewed(ctx, st, s, Header{Version: "1", AsOf: "2026-01-01"}, fresh)
		require.NoError(t, err)
		raw, err := json.Marshal(f)
		require.NoError(t, err)
		return f, string(raw)
	}
	// mark writes a note into what is kept, by which it can be told from a new review.
	mark := func() {
		of, err := st.Meta(ctx, keptOfKey)
		require.NoError(t, err)
		f, err := kept(ctx, st, of)
		require.NoError(t, err)
		require.NotNil(t, f)
		f.Notes = append(f.Notes, "kept")
		_, text, err := f.passed(ctx)
		require.NoError(t, err)
		require.NoError(t, keep(ctx, st, of, text))
	}
	made, err := Run(ctx, st, s, Header{Version: "1", AsOf: "2026-01-01"})
	require.NoError(t, err)
	want, err := json.Marshal(made)
	require.NoError(t, err)
	samePassed(t, made)
	_, first := review(s, false)
	assert.Equal(t, string(want), first)
	_, second := review(s, false)
	assert.Equal(t, first, second)

	mark()
	f, _ := review(s, false)
	assert.Contains(t, f.Notes, "kept", "the second review takes what the first one left")
	require.NoError(t, st.Close())
	st, err = store.Open(ctx, path, store.Options{ReadOnly: true})
	require.NoError(t, err)
	f, _ = review(s, false)
	assert.Contains(t, f.Notes, "kept", "a store that cannot be written to can be read")
	_, again := review(s, true)
	assert.Equal(t, first, again, "and is reviewed anew when asked")
	require.NoError(t, st.Close())
	st, err = store.Open(ctx, path, store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	of, err := keptOf(ctx, st, s)
	require.NoError(t, err)
	other := s
	other.Changes = []Change{{Name: "tray rule", From: "2024", Where: []string{Everywhere}}}
	ofOther, err := keptOf(ctx, st, other)
	require.NoError(t, err)
	assert.NotEqual(t, of, ofOther, "settings that stand outside their own form count as well")

	require.NoError(t, st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error { return st.SetMeta(ctx, c, keptKey, "no base64") }))
	f, err = kept(ctx, st, of)
	require.NoError(t, err)
	assert.Nil(t, f, "damage is not read")
	_, text, err := made.passed(ctx)
	require.NoError(t, err)
	require.NoError(t, keep(ctx, st, of, text))
	require.NoError(t, Forget(ctx, st))
	_, again = review(s, false)
	assert.Equal(t, first, again, "nothing was loaded, nothing is forgotten")

	load("two")
	ofTwo, err := keptOf(ctx, st, s)
	require.NoError(t, err)
	f, err = kept(ctx, st, ofTwo)
	require.NoError(t, err)
	assert.Nil(t, f, "what is of other loads is not taken")
	require.NoError(t, Forget(ctx, st))
	left, err := st.Meta(ctx, keptKey)
	require.NoError(t, err)
	assert.Empty(t, left, "and is dropped")
}

// samePassed: field by field, findings give what the form of the whole gives, and are kept so.
func samePassed(t *testing.T, f *Findings) {
	t.Helper()
	for _, since := range []*Since{nil, {Rule: "a < b"}} {
		f.Since = since
		whole, err := json.Marshal(f)
		require.NoError(t, err)
		got, text, err := f.passed(context.Background())
		require.NoError(t, err)
		form, err := json.Marshal(got)
		require.NoError(t, err)
		assert.Equal(t, string(whole), string(form))
		unpacked, err := gzip.NewReader(bytes.NewReader(text))
		require.NoError(t, err)
		kept, err := io.ReadAll(unpacked)
		require.NoError(t, err)
		assert.Equal(t, string(whole), string(kept))
		back, err := unpack(text)
		require.NoError(t, err)
		form, err = json.Marshal(back)
		require.NoError(t, err)
		assert.Equal(t, string(whole), string(form))
		end, err := packed([]byte("}"))
		require.NoError(t, err)
		for name, damaged := range map[string][]byte{
			"the end":  text[:len(text)-len(end)],
			"a byte":   append(slices.Clone(text[:len(text)/2]), append([]byte{text[len(text)/2] ^ 1}, text[len(text)/2+1:]...)...),
			"a half":   text[:len(text)/2],
			"all":      nil,
			"the rest": end,
		} {
			_, err := unpack(damaged)
			assert.Error(t, err, "%s is missing or wrong", name)
		}
	}
	f.Since = nil
}
