package sheets

import (
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// TestSplitRowIsSplitBytes: the same cells and, of valid text, whether it has letters of
// more than one byte, for any record and delimiter.
func TestSplitRowIsSplitBytes(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		delim := rapid.SampledFrom([]byte(",;\t|")).Draw(r, "delim")
		text := []byte(rapid.StringOf(rapid.SampledFrom([]rune("ab0,;\t|\"é\r-.\x7f\x01"))).Draw(r, "text"))
		before := [][]byte{[]byte("x")}
		want := SplitBytes(text, delim, before)
		got, ascii := SplitRow(text, delim, before)
		assert.Equal(r, want, got)
		assert.Equal(r, utf8.RuneCount(text) == len(text), ascii)
	})
}

func BenchmarkSplitRow(b *testing.B) {
	text := []byte("V000000001,C000000001,62,upper,planned,yes,28,sore|loose,yes")
	var cells [][]byte
	for b.Loop() {
		cells, _ = SplitRow(text, ',', cells[:0])
	}
}

func BenchmarkSplitBytes(b *testing.B) {
	text := []byte("V000000001,C000000001,62,upper,planned,yes,28,sore|loose,yes")
	var cells [][]byte
	for b.Loop() {
		cells = SplitBytes(text, ',', cells[:0])
	}
}
