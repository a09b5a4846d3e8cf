//go:build browser

package page

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/wording"
)

// The script speaks the page's language, and sorts numbers with that language's marks.
func TestTheScriptSpeaksThePagesLanguageInABrowser(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Pack(&b, story(), foreign(t)))
	file := filepath.Join(t.TempDir(), "pack.html")
	require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
	ctx, h := browser(t)
	open(t, ctx, "file://"+file, 1280)
	const figure, ratio = "funnel-clinician-adjustment_visits", 4
	evaluate[any](t, ctx, `document.querySelector('#`+figure+` details').open = true; null`)
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitReady(`#`+figure+` .tools button`)))
	assert.Equal(t, widened("Copy this table"), evaluate[string](t, ctx, `document.querySelector('#`+figure+` .tools button').textContent`))
	for _, column := range []int{1, 2, ratio} { // n and events with marks between thousands, a ratio with a decimal comma
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(fmt.Sprintf(`#%s th:nth-child(%d) button`, figure, column+1))))
		cells := cellsOf(t, ctx, figure, column)
		var english []string
		for _, c := range cells {
			english = append(english, strings.ReplaceAll(strings.ReplaceAll(c, ".", ""), ",", "."))
		}
		up := leading(t, english)
		assert.GreaterOrEqual(t, len(up), 4)
		assert.True(t, slices.IsSorted(up), "%v", cells)
	}
	ticks := evaluate[string](t, ctx, `[...document.querySelectorAll('[data-chart] text')].map(t => t.textContent).join('|')`)
	assert.Regexp(t, `\|\d+,\d+\|`, ticks, "an axis with decimals shows them so")
	assert.NotRegexp(t, `\|\d+\.\d\d?\|`, ticks)
	evaluate[any](t, ctx, `window.dispatchEvent(new Event('beforeprint')); null`)
	assert.Equal(t, widened("Tables"), evaluate[string](t, ctx, `document.querySelector('#tables h2').textContent`))
	assert.True(t, strings.HasPrefix(evaluate[string](t, ctx, `document.querySelector('#tables summary').textContent`), widened("Table")+" 1: "))
	_, errors := h.take()
	assert.Empty(t, errors)
}

// Periods sort by time, also in a language that writes the quarter before the year.
func TestPeriodsSortByTimeInABrowser(t *testing.T) {
	words, err := wording.Read("de", []byte("[date]\nquarter = \"Q{quarter}/{year}\""), wording.English())
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, Pack(&b, story(), Options{Words: words}))
	file := filepath.Join(t.TempDir(), "pack.html")
	require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
	ctx, _ := browser(t)
	open(t, ctx, "file://"+file, 1280)
	const figure = "trend-adjustment_visits"
	first := cellsOf(t, ctx, figure, 0)
	require.Regexp(t, `^Q1/20\d\d$`, first[0])
	require.False(t, slices.IsSorted(first), "as texts they stand in another order than in time")
	evaluate[any](t, ctx, `document.querySelector('#`+figure+` details').open = true; null`)
	for _, descending := range []bool{false, true} {
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(`#`+figure+` th:first-child button`)))
		want := slices.Clone(first)
		if descending {
			slices.Reverse(want)
		}
		assert.Equal(t, want, cellsOf(t, ctx, figure, 0))
	}
}
