package intake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// scanned looks a text through in pieces of a size, and gives all that comes of it: what
// DuckDB would read included.
func scanned(t *testing.T, text string, piece int) (said string, refused error) {
	t.Helper()
	dir := t.TempDir()
	path := filepath.Join(dir, "visits.csv")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	info, err := os.Stat(path)
	require.NoError(t, err)
	s := &scanner{file: "visits.csv", path: path, table: "visits", seen: info, piece: piece}
	if err := s.scan(context.Background(), bytes.NewReader([]byte(text))); err != nil {
		return "", err
	}
	sh, err := s.sheet(t.TempDir())
	require.NoError(t, err)
	read, err := os.ReadFile(sh.Path)
	require.NoError(t, err)
	return fmt.Sprintf("%q %d %d %v %v %q %s %q", sh.Header, sh.HeadLine, sh.Records, sh.Shifts, sh.Rejected, sh.RejectedText, sh.SHA256, read), nil
}

// TestAFileIsTheSameInPieces: wherever a file is cut for reading, the same comes of it,
// and what makes it unreadable is told in the same words.
func TestAFileIsTheSameInPieces(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 9)) //nolint:gosec // no secret
	parts := []string{"\n", "\r\n", "\n", "1,2,3\n", "1,2,3\r\n", "ä,ö,🦷\n", "\"a\nb\",2,3\n", "\"a\"\"b\",2,3\n", "1,\"2\r\n3\",4\r\n", "1,2\n", "1,2,3,4\n", "a\rb,2,3\n", "1,\"x\"y,3\n", "x\"y,2,3\n", "  \n", ",,\n", "1,2,\"3\"\r"}
	texts := []string{"", "\ufeff", " \n\n", "a;b;c\n1;2;3\n", "a,b,c", "a,b,c\r", "a,b,c\n1,2,3", "\ufeffa,b,c\n1,2,3\n", "a,b,c\n1,2,3\nä\xff,2,3\n", "a,b,c\n1,2,\"3\n4,5,6\n", "a,b,c\n1,2,\x00\n", "PK\x03\x04 and more", "a,b,c\n1,2,3\n🦷", "a,b,c\n1,2,3\n\xf0\x9f"}
	for range 150 {
		text := []string{"a,b,c\n", "\ufeffa,b,c\r\n", "\n\"a\",b,c\n"}[r.IntN(3)]
		for range 1 + r.IntN(8) {
			text += parts[r.IntN(len(parts))]
		}
		texts = append(texts, text)
	}
	read, refused := 0, 0
	for _, text := range texts {
		want, wantErr := scanned(t, text, len(text)+1)
		for _, piece := range []int{4, 5, 7, 16, len(text), 2*len(text) + 1} {
			got, err := scanned(t, text, max(piece, 4))
			require.Equal(t, fmt.Sprint(wantErr), fmt.Sprint(err), "%q in pieces of %d", text, piece)
			require.Equal(t, want, got, "%q in pieces of %d", text, piece)
		}
		if wantErr == nil {
			read++
		} else {
			refused++
		}
	}
	assert.Greater(t, read, 40)
	assert.Greater(t, refused, 8)
}

// TestARecordWithoutAnEndIsRefused long before the end of its file.
func TestARecordWithoutAnEndIsRefused(t *testing.T) {
	for start, want := range map[string]string{"1,\"2": "an unterminated quote", "1,2": "a cell that makes the record"} {
		endless := &endlessReader{start: "a,b\n" + start}
		s := &scanner{file: "visits.csv", table: "visits", piece: 1 << 20}
		err := s.scan(context.Background(), endless)
		require.ErrorContains(t, err, want)
		assert.Less(t, endless.given, 40*maxRecord)
	}
}

type endlessReader struct {
	start string
	given int
}

func (e *endlessReader) Read(p []byte) (int, error) {
	if e.given > 100*maxRecord {
		return 0, errors.New("read on for too long")
	}
	n := copy(p, e.start)
	e.start = e.start[n:]
	n += copy(p[n:], strings.Repeat("x", len(p)-n))
	e.given += n
	return n, nil
}
