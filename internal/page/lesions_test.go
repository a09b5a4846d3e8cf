package page

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/review"
)

// TestLongListsOfPlacesSayWhatTheyLeaveOut: of 303 places to check the three whose visits
// lie closest together are not named, and the page says so; a list that is named whole
// says nothing.
func TestLongListsOfPlacesSayWhatTheyLeaveOut(t *testing.T) {
	f := story()
	f.Lesions = []review.Lesion{{CaseID: "K-look", Arch: "upper", Zone: "labial_flange", Level: "look", FirstDay: 5, LastDay: 20}}
	for i := range int64(303) {
		f.Lesions = append(f.Lesions, review.Lesion{CaseID: fmt.Sprintf("K%03d", i), Arch: "lower", Zone: "labial_flange", Level: "check", FirstDay: 5, LastDay: 30 + i})
	}
	var b strings.Builder
	require.NoError(t, Pack(&b, f, Options{}))
	list := cutOut(t, b.String(), `id="lesion-check"`, "</figure>")
	for i := range 303 {
		assert.Equal(t, i >= 3, strings.Contains(list, fmt.Sprintf("K%03d<", i)), "K%03d", i)
	}
	assert.Less(t, strings.Index(list, "K010<"), strings.Index(list, "K011<"), "in their order")
	assert.Contains(t, list, "the 300 places whose visits lie furthest apart, of 303")
	look := cutOut(t, b.String(), `id="lesion-list"`, "</figure>")
	assert.Contains(t, look, "K-look")
	assert.NotContains(t, look, "furthest apart")
}
