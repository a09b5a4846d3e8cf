package page

import (
	"bytes"
	"html/template"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"afterfit/internal/review"
	"afterfit/reports"
)

// An interval with a caution is marked in a table, and the mark is explained under it;
// a table without one, or one whose figure is not shown, has neither.
func TestTablesMarkIntervalsWithACaution(t *testing.T) {
	sure := review.Estimate{Value: 40, Low: 30, High: 52, Level: 0.95, N: 300, Events: 120, Unit: "per 100 dentures"}
	unsure, hidden := sure, sure
	unsure.Warnings = []string{"Only 4 events: exact limits are wider than their level says."}
	hidden.Warnings, hidden.TooFew = unsure.Warnings, "Too few to tell: 4 followed."
	parts, err := reports.Templates(template.FuncMap{"say": english.Say})
	require.NoError(t, err)
	draw := func(e review.Estimate) string {
		out := english.valueTable("Table", "Place", "zone", []review.GroupValue{{Code: "a", Estimate: e}})
		var page bytes.Buffer
		require.NoError(t, parts.ExecuteTemplate(&page, "table", out))
		return page.String()
	}
	shown := draw(unsure)
	require.Contains(t, shown, "30 to 52†")
	require.Equal(t, 1, strings.Count(shown, english.Say("table.caution")))
	for _, e := range []review.Estimate{sure, hidden} {
		require.NotContains(t, draw(e), "†")
	}
	require.Equal(t, "too few to tell", marked(english.short(hidden), hidden))
}
