//go:build browser

package page

import (
	"context"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// cellsOf reads a column of the table in a figure as it stands.
func cellsOf(t *testing.T, ctx context.Context, figure string, at int) []string {
	t.Helper()
	raw := evaluate[string](t, ctx, fmt.Sprintf(`JSON.stringify([...document.querySelectorAll('#%s tbody tr')].map(r => r.cells[%d].textContent))`, figure, at))
	var out []string
	require.NoError(t, json.Unmarshal([]byte(raw), &out))
	return out
}

// direction is the aria-sort of a column's head.
func direction(t *testing.T, ctx context.Context, figure string, at int) string {
	t.Helper()
	return evaluate[string](t, ctx, fmt.Sprintf(`document.querySelectorAll('#%s th')[%d].getAttribute('aria-sort')`, figure, at))
}

func press(t *testing.T, ctx context.Context, key string) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(key)))
}

// leading reads the numbers at the start of cells; cells without one are left out and
// must come last.
func leading(t *testing.T, cells []string) []float64 {
	t.Helper()
	number := regexp.MustCompile(`^[+-]?[0-9.]+`)
	var out []float64
	none := false
	for _, c := range cells {
		m := number.FindString(strings.ReplaceAll(strings.ReplaceAll(c, "−", "-"), ",", ""))
		if m == "" {
			none = true
			continue
		}
		assert.False(t, none, "a cell without a number stands before %q", c)
		v, err := strconv.ParseFloat(m, 64)
		require.NoError(t, err)
		out = append(out, v)
	}
	return out
}

// The way of the keyboard: the summary opens, the copy button and the heads follow, Enter and Space sort.
func TestTablesSortByKeyboardInABrowser(t *testing.T) {
	ctx, h := browser(t)
	open(t, ctx, write(t, "pack"), 1280)
	const figure, difference = "zone-difference-1-upper", 3
	first := cellsOf(t, ctx, figure, difference)
	assert.False(t, slices.IsSorted(leading(t, first)), "the table comes unsorted, or the test shows nothing")
	evaluate[any](t, ctx, `document.querySelector('#`+figure+` summary').focus(); null`)
	press(t, ctx, kb.Enter)
	assert.True(t, evaluate[bool](t, ctx, `document.querySelector('#`+figure+` details').open`))
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitReady(`#`+figure+` .tools button`)))
	press(t, ctx, kb.Tab)
	assert.Equal(t, "Copy this table", evaluate[string](t, ctx, `document.activeElement.textContent`))
	press(t, ctx, kb.Tab) // the region that scrolls
	for range difference + 1 {
		press(t, ctx, kb.Tab)
	}
	assert.Equal(t, "Difference", evaluate[string](t, ctx, `document.activeElement.textContent`))
	press(t, ctx, kb.Enter)
	up := leading(t, cellsOf(t, ctx, figure, difference))
	assert.True(t, slices.IsSorted(up), "%v", up)
	assert.Negative(t, up[0], "a true minus is read as one")
	assert.Equal(t, "ascending", direction(t, ctx, figure, difference))
	press(t, ctx, " ")
	down := leading(t, cellsOf(t, ctx, figure, difference))
	slices.Reverse(down)
	assert.True(t, slices.IsSorted(down), "%v", down)
	assert.Equal(t, "descending", direction(t, ctx, figure, difference))
	press(t, ctx, kb.Enter)
	assert.Equal(t, first, cellsOf(t, ctx, figure, difference))
	assert.Equal(t, "none", direction(t, ctx, figure, difference))
	_, errors := h.take()
	assert.Empty(t, errors)
}

// The way of the mouse, with a row that has no figure, words, and a second column.
func TestTablesSortByMouseInABrowser(t *testing.T) {
	ctx, h := browser(t)
	open(t, ctx, write(t, "pack"), 1280)
	click := func(figure string, at int) {
		evaluate[any](t, ctx, `document.querySelector('#`+figure+` details').open = true; null`)
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(fmt.Sprintf(`#%s th:nth-child(%d) button`, figure, at+1))))
	}
	const clinicians, figureColumn = "funnel-clinician-adjustment_visits", 3
	for _, way := range []string{"ascending", "descending"} { // the clinician with too few stays last both ways
		click(clinicians, figureColumn)
		cells := cellsOf(t, ctx, clinicians, figureColumn)
		assert.True(t, strings.HasPrefix(cells[len(cells)-1], "Too few to tell"), "%v", cells)
		figures := leading(t, cells)
		assert.Len(t, figures, len(cells)-1)
		if way == "descending" {
			slices.Reverse(figures)
		}
		assert.True(t, slices.IsSorted(figures), "%s: %v", way, figures)
	}
	click("zones-lower", 0)
	places := cellsOf(t, ctx, "zones-lower", 0)
	assert.True(t, slices.IsSorted(places), "%v", places[:4])
	click("zones-lower", 1)
	assert.Equal(t, []string{"none", "ascending"}, []string{direction(t, ctx, "zones-lower", 0), direction(t, ctx, "zones-lower", 1)}, "one column at a time")
	_, errors := h.take()
	assert.Empty(t, errors)
}

// copied presses the copy button of a figure's table and returns what was copied, by the
// clipboard or, where there is none, by the field that takes its place.
func copied(t *testing.T, ctx context.Context, figure string, clipboard bool) string {
	t.Helper()
	evaluate[any](t, ctx, fmt.Sprintf(`(() => {
		window.__copied = '';
		Object.defineProperty(navigator, 'clipboard', {configurable: true, value: %t ? {writeText: s => { window.__copied = s; return Promise.resolve(); }} : undefined});
		document.addEventListener('copy', () => { window.__copied = document.activeElement.value; }, {once: true});
		document.querySelector('#%s details').open = true;
	})()`, clipboard, figure))
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`#`+figure+` .tools button`), chromedp.WaitVisible(`#`+figure+` .tools span:not(:empty)`)))
	assert.Contains(t, evaluate[string](t, ctx, `document.querySelector('#`+figure+` .tools span').textContent`), "Copied")
	return evaluate[string](t, ctx, `window.__copied`)
}

func TestTablesCopyInABrowser(t *testing.T) {
	ctx, _ := browser(t)
	open(t, ctx, write(t, "pack"), 1280)
	const figure = "zone-difference-1-upper"
	text := copied(t, ctx, figure, true)
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	assert.Equal(t, english.Say("head.place_own")+"\tWith\tWithout\tDifference\tInterval\tSpots\tn with\tn without\tUnit\tMethod", lines[0], "what stands once above the table comes last")
	assert.Len(t, lines, 1+len(cellsOf(t, ctx, figure, 0)))
	for _, l := range lines {
		assert.Equal(t, 9, strings.Count(l, "\t"), l)
	}
	assert.Contains(t, text, "\t-2.2\t-4.0 to -0.4\t", "a true minus would be no number to a spreadsheet")
	assert.Equal(t, text, copied(t, ctx, figure, false))
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`#`+figure+` th:nth-child(4) button`)))
	sorted := copied(t, ctx, figure, true)
	assert.NotEqual(t, text, sorted, "the table is copied as it stands")
	assert.ElementsMatch(t, lines, strings.Split(strings.TrimSuffix(sorted, "\n"), "\n"))
}

// Hostile names neither run as a formula nor end a cell.
func TestHostileTablesCopyInABrowser(t *testing.T) {
	ctx, _ := browser(t)
	open(t, ctx, write(t, "formulas"), 1280)
	lines := strings.Split(strings.TrimSuffix(copied(t, ctx, "index", true), "\n"), "\n")
	var got []string
	for _, l := range lines[1:] {
		cells := strings.Split(l, "\t")
		require.Len(t, cells, 4, l)
		got = append(got, cells[0])
	}
	assert.Equal(t, []string{"'=1+1", "'+cmd|' /C calc'!A0", "'@SUM(A1)", "'-1+cmd", "-5", "a b", "RTL"}, got)
}

// Without script a table is a plain table, folded and complete.
func TestTablesWithoutScriptInABrowser(t *testing.T) {
	ctx, _ := browser(t)
	_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	require.NoError(t, err)
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(write(t, "audit")), chromedp.WaitReady(`#cautions`)))
	assert.Zero(t, evaluate[int](t, ctx, `document.querySelectorAll('button').length`))
	assert.Greater(t, evaluate[int](t, ctx, `document.querySelectorAll('#timeline tbody tr').length`), 5)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`#timeline-line summary`)))
	assert.True(t, evaluate[bool](t, ctx, `document.querySelector('#timeline-line details').open`))
}
