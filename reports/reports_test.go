package reports

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The bundle is third-party text that nobody reviews line by line: its sum is the
// only thing that tells a rebuilt bundle from a changed one.
func TestLibraryIsTheOneRecorded(t *testing.T) {
	sum := sha256.Sum256([]byte(Library))
	fields := strings.Fields(LibrarySum)
	require.Len(t, fields, 2)
	assert.Equal(t, fields[0], hex.EncodeToString(sum[:]))
}

// An end tag inside an inlined script would end it early and turn the rest to text.
func TestScriptsAndStyleCanBeInlined(t *testing.T) {
	for name, text := range map[string]string{"library": Library, "boot": Boot} {
		assert.NotContains(t, strings.ToLower(text), "</script", name)
		assert.NotContains(t, text, "<!--", name)
	}
	assert.NotContains(t, Style, "</")
	assert.NotContains(t, Style, "url(")
	assert.NotContains(t, Style, "@import")
}

func TestNoSourceFetches(t *testing.T) {
	for _, word := range []string{"fetch(", "XMLHttpRequest", "WebSocket", "sendBeacon", "import("} {
		assert.NotContains(t, Boot, word)
	}
}
