//go:build browser

package page

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// openAll opens every fold of a page, so that what it holds is looked at too, and waits
// until its charts are drawn and its tables have their buttons.
func openAll(t *testing.T, ctx context.Context) {
	t.Helper()
	_, err := chromedp.Run(ctx, chromedp.Evaluate[any](`document.querySelectorAll('details').forEach(d => { d.open = true; }); new Promise(done => setTimeout(() => done(null), 50))`, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	require.Equal(t, "0 of 0", evaluate[string](t, ctx, `document.querySelectorAll('[data-chart]:not([data-drawn])').length + ' of ' + document.querySelectorAll('details table:not([data-ready])').length`), "what is open is not drawn or has no buttons")
}

// axe is the accessibility checker's source, after its sum has been checked.
func axe(t *testing.T) string {
	t.Helper()
	source, err := os.ReadFile("testdata/axe/axe.min.js")
	require.NoError(t, err)
	want, err := os.ReadFile("testdata/axe/axe.min.js.sha256")
	require.NoError(t, err)
	sum := sha256.Sum256(source)
	require.True(t, strings.HasPrefix(string(want), hex.EncodeToString(sum[:])), "axe.min.js is not the file whose sum is recorded")
	return string(source)
}

// violations runs the WCAG 2.2 rules of levels A and AA on the page that is open.
func violations(t *testing.T, ctx context.Context) []string {
	t.Helper()
	found, err := chromedp.Run(ctx, chromedp.Evaluate[string](`axe.run(document, {
		runOnly: {type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}, rules: {'target-size': {enabled: true}}, resultTypes: ['violations']
	}).then(r => JSON.stringify(r.violations.map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 120) + ' [' + n.failureSummary.slice(0, 200) + ']').join(' | '))))`, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	var out []string
	require.NoError(t, json.Unmarshal([]byte(found), &out))
	return out
}

func TestAccessibilityInABrowser(t *testing.T) {
	source := axe(t)
	for _, name := range []string{"pack", "summary", "index", "audit", "teach", "tiny"} {
		t.Run(name, func(t *testing.T) {
			ctx, _ := browser(t)
			for _, width := range []int64{360, 1280} {
				open(t, ctx, write(t, name), width)
				evaluate[any](t, ctx, source+"; null")
				openAll(t, ctx)
				assert.Empty(t, violations(t, ctx), "at %d", width)
			}
			// What is broken on purpose must be found, or the check sees nothing.
			evaluate[any](t, ctx, `document.documentElement.removeAttribute('lang'); document.querySelector('h1').style.color = '#ddd'; null`)
			assert.Len(t, violations(t, ctx), 2)
		})
	}
}

// reaching lists what reaches past the edge of the page, with the folds open.
func reaching(t *testing.T, ctx context.Context) []string {
	t.Helper()
	openAll(t, ctx)
	return seen(t, ctx).Wide
}

// No page scrolls sideways: on a small telephone, on a screen of 1280 at 200 %, on a wide one.
func TestLayoutInABrowser(t *testing.T) {
	for _, name := range []string{"pack", "hostile", "summary", "index", "audit", "teach", "hostile-audit", "bare"} {
		t.Run(name, func(t *testing.T) {
			ctx, _ := browser(t)
			address := write(t, name)
			for _, c := range []struct {
				width int64
				scale float64
			}{{360, 1}, {640, 2}, {2560, 1}} {
				require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(c.width, 900, chromedp.EmulateScale(c.scale)), chromedp.Navigate(address), chromedp.WaitReady(`main:not([data-opening])`)))
				assert.Empty(t, reaching(t, ctx), "%d wide at scale %g", c.width, c.scale)
			}
		})
	}
}

// paper is the width of A4 between its margins of 15 mm, in CSS pixels.
const paper = 680

// clipped lists what paper would cut off: anything past its edge, and anything that
// only scrolling would show.
const clipped = `(() => {
  const past = [...document.querySelectorAll('main *')].filter(e => { const r = e.getBoundingClientRect(); return r.width > 0 && r.right > innerWidth + 1; });
  const scrolls = [...document.querySelectorAll('main .scroll')].filter(e => e.scrollWidth > e.clientWidth + 1);
  return JSON.stringify(past.concat(scrolls).slice(0, 6).map(e => e.tagName + '.' + (e.getAttribute('class') || '') + ' in ' + (e.closest('[id]') || {}).id + ' to ' + Math.round(e.getBoundingClientRect().right)));
})()`

func TestPrintedPagesClipNothingInABrowser(t *testing.T) {
	for _, name := range []string{"pack", "summary", "index", "audit", "teach", "hostile-audit"} {
		t.Run(name, func(t *testing.T) {
			ctx, _ := browser(t)
			open(t, ctx, write(t, name), paper)
			_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
			require.NoError(t, err)
			require.NotZero(t, evaluate[int](t, ctx, `(d => { d.open = true; return 1; })(document.querySelector('main > section > figure > details:not(.on-screen):has(table)'))`))
			require.NoError(t, chromedp.Do(ctx, chromedp.WaitReady(`.tools`)))
			evaluate[any](t, ctx, `window.dispatchEvent(new Event('beforeprint')); null`)
			var found []string
			require.NoError(t, json.Unmarshal([]byte(evaluate[string](t, ctx, clipped)), &found))
			assert.Empty(t, found)
			shut := evaluate[int](t, ctx, `[...document.querySelectorAll('details')].filter(d => !d.open).length`)
			// A finding that is neither clear nor likely stands in the tables; its fold is left out, and the page says so.
			left := evaluate[int](t, ctx, `document.querySelectorAll('.on-screen').length`)
			assert.Equal(t, name == "pack", left > 0)
			assert.Equal(t, left > 0, evaluate[bool](t, ctx, `[...document.querySelectorAll('.on-paper')].some(e => e.offsetHeight > 0)`))
			assert.Equal(t, map[bool]int{true: 1, false: 0}[name == "teach"]+left, shut, "else only the fold of the teaching form stays shut on paper")
			assert.Equal(t, 0, evaluate[int](t, ctx, `[...document.querySelectorAll('.on-screen')].filter(e => e.offsetHeight > 0).length`))
			assert.Equal(t, "none", evaluate[string](t, ctx, `getComputedStyle(document.querySelector('.tools')).display`))
			shoot(t, ctx, name+"-print.png")
		})
	}
}
