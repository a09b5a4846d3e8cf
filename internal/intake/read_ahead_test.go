package intake

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReadAheadNamesTheFirstFault: of several files that cannot be read the first in the
// order of the contract is named, whichever reading ends first, and no reading goes on
// when the load has ended.
func TestReadAheadNamesTheFirstFault(t *testing.T) {
	files := map[string]string{}
	for name, text := range small {
		files[name] = text
	}
	files["records.csv"] += "K1,\"" + string(make([]byte, 1<<20)) // long to read
	files["remakes.csv"] = "%PDF"
	files["trays.csv"] = "PK\x03\x04"
	dir := write(t, files)
	for range 20 {
		_, err := Load(context.Background(), newStore(t), dir, LoadOptions{})
		var fault Fault
		require.ErrorAs(t, err, &fault)
		require.Equal(t, "records.csv", fault.File)
	}
	src, err := Open(context.Background(), write(t, small), t.TempDir())
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	read, done := readAhead(ctx, src, t.TempDir())
	_, err = read("cases")
	assert.ErrorIs(t, err, context.Canceled)
	done()
}
