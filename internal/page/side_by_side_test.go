package page

import (
	"bytes"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Summaries are written several at a time, with the same words: pages that are made side
// by side must be those that are made one after the other.
func TestPagesSideBySide(t *testing.T) {
	alone, together := map[string]string{}, map[string]*bytes.Buffer{}
	for name := range pages() {
		alone[name], together[name] = rendered(t, name), &bytes.Buffer{}
	}
	errs := map[string]error{}
	var mu sync.Mutex
	var wg sync.WaitGroup
	for name, write := range pages() {
		wg.Go(func() {
			err := write(together[name])
			mu.Lock()
			defer mu.Unlock()
			errs[name] = err
		})
	}
	wg.Wait()
	for name, page := range together {
		require.NoError(t, errs[name], name)
		assert.True(t, alone[name] == page.String(), name)
	}
}
