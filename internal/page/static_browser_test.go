//go:build browser

package page

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// staticPages are canned pages of every kind, without script.
func staticPages() map[string]func(io.Writer) error {
	opt := storyOptions()
	opt.Static = true
	return map[string]func(io.Writer) error{
		"static-pack":    func(w io.Writer) error { return Pack(w, story(), opt) },
		"static-summary": func(w io.Writer) error { return Summary(w, storySummary(), opt) },
		"static-index": func(w io.Writer) error {
			return SummaryIndex(w, []IndexEntry{{"C05", SummaryFile("C05", "00"), 288, 520}}, About{}, opt)
		},
		"static-hostile": func(w io.Writer) error { return Pack(w, hostileStory(), Options{Static: true}) },
	}
}

var chartTitle = regexp.MustCompile(`<div class="chart" [^>]*aria-label="([^"]*)"`)

// A static page holds no script at all, and a still picture under the same title for
// every chart of the page with script; the tables are the same.
func TestStaticPagesForTheBrowser(t *testing.T) {
	drawn := 0
	with := map[string]string{"static-pack": rendered(t, "pack"), "static-summary": rendered(t, "summary"), "static-hostile": rendered(t, "hostile"), "static-index": ""}
	for name, write := range staticPages() {
		var first, again bytes.Buffer
		require.NoError(t, write(&first), name)
		require.NoError(t, write(&again), name)
		assert.True(t, bytes.Equal(first.Bytes(), again.Bytes()), "%s: other bytes the second time", name)
		page := first.String()
		for _, never := range []string{"<script", "ZgotmplZ", "NaN", " style=", "data-chart", "javascript:"} {
			assert.NotContains(t, strings.ReplaceAll(page, "[data-chart", ""), never, name)
		}
		assert.Contains(t, page, "script-src &#39;none&#39;", name)
		titles := chartTitle.FindAllStringSubmatch(with[name], -1)
		for _, m := range titles {
			assert.Contains(t, page, `role="img" aria-label="`+m[1]+`"><title>`, name)
		}
		assert.Equal(t, len(titles), strings.Count(page, `<svg class="still broad"`), name)
		assert.Equal(t, len(titles), strings.Count(page, `<svg class="still narrow"`), name)
		if with[name] != "" {
			assert.Equal(t, strings.Count(ours(with[name]), "<table"), strings.Count(page, "<table"), name)
		}
		drawn += len(titles)
	}
	assert.Greater(t, drawn, 10, "or the pages hold no chart to draw")
}

// Audits hold pictures of our own only.
func TestStaticAuditForTheBrowser(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Audit(&b, storyAudit(), true, Options{Static: true}))
	assert.NotContains(t, b.String(), "<script")
	assert.Contains(t, b.String(), "<svg")
}

// Each static page opens with its own request and no other, complains of nothing, shows
// every picture, reaches past no edge, and prints its folded tables.
func TestStaticPagesInABrowser(t *testing.T) {
	for name, page := range staticPages() {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, page(&b))
			path := filepath.Join(t.TempDir(), name+".html")
			require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
			address := "file://" + path
			ctx, h := browser(t)
			for _, width := range []int64{360, 1280} {
				require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate(address), chromedp.WaitReady(`#cautions`)))
				assert.Empty(t, seen(t, ctx).Wide, "at %d", width)
				shown := map[int64]string{360: "narrow", 1280: "broad"}[width]
				assert.Zero(t, evaluate[int](t, ctx, `[...document.querySelectorAll('svg.still')].filter(s => s.querySelectorAll('path,circle').length < 3 || (getComputedStyle(s).display !== 'none') !== s.classList.contains('`+shown+`')).length`), "one picture of each chart is shown at %d", width)
				assert.Zero(t, evaluate[int](t, ctx, `[...document.querySelectorAll('svg.still.`+shown+`')].filter(s => s.getBoundingClientRect().height < 50 || s.parentNode.scrollWidth > s.parentNode.clientWidth + 1).length`), "a picture does not fit at %d", width)
				requests, errors := h.take()
				assert.Equal(t, []string{address}, requests)
				assert.Empty(t, errors)
				shoot(t, ctx, fmt.Sprintf("%s-%d.png", name, width))
			}
			_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
			require.NoError(t, err)
			assert.Zero(t, evaluate[int](t, ctx, `[...document.querySelectorAll('figure table')].filter(e => !e.closest('.on-screen') && e.offsetHeight < 10).length`), "a folded table is printed")
		})
	}
}
