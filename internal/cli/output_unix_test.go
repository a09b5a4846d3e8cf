//go:build unix

package cli

import (
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPagesGoIntoPipesAndReplaceFiles: a page takes the place of a file, and goes through
// a pipe, which is still one afterwards.
func TestPagesGoIntoPipesAndReplaceFiles(t *testing.T) {
	dir := t.TempDir()
	page := func(w io.Writer) error { _, err := io.WriteString(w, "<html>"); return err }
	file := filepath.Join(dir, "page.html")
	require.NoError(t, os.WriteFile(file, []byte("an older and longer page"), 0o600))
	require.NoError(t, writeBeside(file, page))
	got, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, "<html>", string(got))

	pipe := filepath.Join(dir, "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	read := make(chan string, 1)
	go func() {
		b, err := os.ReadFile(pipe)
		assert.NoError(t, err)
		read <- string(b)
	}()
	require.NoError(t, writeBeside(pipe, page))
	info, err := os.Lstat(pipe)
	require.NoError(t, err)
	require.NotZero(t, info.Mode()&os.ModeNamedPipe, "the pipe was replaced")
	assert.Equal(t, "<html>", <-read)
	left, err := filepath.Glob(filepath.Join(dir, ".afterfit-*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}
