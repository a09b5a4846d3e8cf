//go:build browser

package page

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// These tests open the canned pages in a real browser. They need Chromium and run
// with: go test -tags browser ./internal/page -args -shots FOLDER

// patience is how long one page may take, the browser's start included.
const patience = 4 * time.Minute

// heard collects what a page asked for and complained about.
type heard struct {
	mu       sync.Mutex
	requests []string
	errors   []string
}

func (h *heard) listen(event any) {
	h.mu.Lock()
	defer h.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		h.requests = append(h.requests, e.Request.URL)
	case *runtime.EventExceptionThrown:
		h.errors = append(h.errors, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		h.errors = append(h.errors, fmt.Sprint("console ", e.Type, " ", e.Args))
	case *cdplog.EventEntryAdded:
		h.errors = append(h.errors, string(e.Entry.Level)+": "+e.Entry.Text)
	}
}

func (h *heard) take() (requests, errors []string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	requests, errors = h.requests, h.errors
	h.requests, h.errors = nil, nil
	return requests, errors
}

// browser starts a Chromium of its own and ends it with the test.
func browser(t *testing.T) (context.Context, *heard) {
	t.Helper()
	path := os.Getenv("CHROMIUM")
	if path == "" {
		path = "/usr/bin/chromium"
	}
	require.FileExists(t, path, "set CHROMIUM to a Chromium binary")
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.UserDataDir(t.TempDir())}
	for _, flag := range []string{"disable-quic", "disable-background-networking", "disable-component-update", "disable-sync"} {
		options = append(options, chromedp.Flag(flag, true))
	}
	ctx, stop := context.WithTimeout(context.Background(), patience)
	t.Cleanup(stop)
	ctx, stopAll := chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(stopAll)
	ctx, stopTab := chromedp.NewContext(ctx)
	t.Cleanup(stopTab)
	h := &heard{}
	require.NoError(t, chromedp.Listen(ctx, h.listen))
	return ctx, h
}

// write stores a canned page and returns its address.
func write(t *testing.T, name string) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, pages()[name](&b))
	path := filepath.Join(t.TempDir(), name+".html")
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	return (&url.URL{Scheme: "file", Path: path}).String()
}

// open opens a page and waits until its charts are drawn and all of it is laid out.
func open(t *testing.T, ctx context.Context, address string, width int64) {
	t.Helper()
	opensAt(t, ctx, address, width)
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitReady(`main:not([data-opening])`)), "at %d", width)
}

// opensAt opens a page and waits until its charts are drawn.
func opensAt(t *testing.T, ctx context.Context, address string, width int64) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate(address), chromedp.WaitReady(`html[data-done="yes"]`)), "at %d", width)
}

func evaluate[T any](t *testing.T, ctx context.Context, script string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script))
	require.NoError(t, err)
	return v
}

// state is what the page says of itself once it is done.
type state struct {
	Charts, Boxes, Drawn, Marks int
	Said                        string
	Ran                         bool
	Wide                        []string
	Unlabelled, Images          int
}

const look = `(() => {
  const boxes = [...document.querySelectorAll('[data-chart]')].filter(b => !b.closest('details:not([open])')); // the rest is drawn when it is opened
  const wide = [...document.querySelectorAll('body *')].filter(e => !e.closest('.scroll') && !e.closest('svg') && !e.closest('.skip') && e.getBoundingClientRect().right > innerWidth + 1);
  return JSON.stringify({
    boxes: boxes.length, charts: boxes.filter(b => b.querySelector('svg')).length, drawn: boxes.filter(b => b.dataset.drawn === 'yes').length,
    marks: Math.min(...boxes.map(b => b.querySelectorAll('svg path').length), 1e6), said: document.documentElement.dataset.charts, ran: window.__ran !== undefined,
    wide: (document.documentElement.scrollWidth > innerWidth ? ['page ' + document.documentElement.scrollWidth] : []).concat(wide.slice(0, 5).map(e => e.tagName + '.' + e.className)),
    unlabelled: [...document.querySelectorAll('[role=img]')].filter(e => !e.getAttribute('aria-label')).length, images: document.querySelectorAll('img').length });
})()`

func seen(t *testing.T, ctx context.Context) state {
	t.Helper()
	var s state
	require.NoError(t, json.Unmarshal([]byte(evaluate[string](t, ctx, look)), &s))
	return s
}

func TestPagesInABrowser(t *testing.T) {
	for name := range pages() {
		t.Run(name, func(t *testing.T) {
			ctx, h := browser(t)
			address := write(t, name)
			for _, width := range []int64{360, 1280, 1920} {
				open(t, ctx, address, width)
				s := seen(t, ctx)
				assert.Equal(t, s.Boxes, s.Charts)
				assert.Equal(t, s.Boxes, s.Drawn)
				assert.Equal(t, fmt.Sprintf("%d of %d", s.Boxes, s.Boxes), s.Said)
				assert.Greater(t, s.Marks, 2, "every chart holds more than its frame")
				assert.Empty(t, s.Wide, "at %d", width)
				assert.Zero(t, s.Unlabelled)
				assert.Zero(t, s.Images)
				assert.False(t, s.Ran)
				requests, errors := h.take()
				assert.Equal(t, []string{address}, requests)
				assert.Empty(t, errors)
				shoot(t, ctx, fmt.Sprintf("%s-%d.png", name, width))
			}
		})
	}
}

// The policy must refuse what the page did not come with, an inline script, a handler
// and a request alike.
func TestPolicyIsInForce(t *testing.T) {
	ctx, h := browser(t)
	open(t, ctx, write(t, "pack"), 1280)
	h.take()
	ran := evaluate[bool](t, ctx, `(() => {
		const s = document.createElement('script'); s.textContent = 'window.__ran = 1'; document.body.append(s);
		const d = document.createElement('div'); d.innerHTML = '<p onclick="window.__ran = 1">x</p>'; document.body.append(d); d.firstChild.click();
		return window.__ran !== undefined;
	})()`)
	assert.False(t, ran)
	_, errors := h.take()
	assert.NotEmpty(t, errors, "the browser says that it refused")
}

// soon is what a pack may take from its address to its last chart drawn, the best of five
// times: other programs run on the machine of a test too.
const soon = time.Second

// A pack opens soon, because the page is laid out as a whole and not again for each chart.
func TestPackOpensSoon(t *testing.T) {
	ctx, _ := browser(t)
	address := write(t, "pack")
	_, err := chromedp.Call(ctx, performance.Enable, performance.EnableParams{})
	require.NoError(t, err)
	layouts := func() float64 {
		r, err := chromedp.Call(ctx, performance.GetMetrics, cdp.Empty{})
		require.NoError(t, err)
		at := slices.IndexFunc(r.Metrics, func(m *performance.Metric) bool { return m.Name == "LayoutCount" })
		require.NotEqual(t, -1, at)
		return r.Metrics[at].Value
	}
	best := time.Hour
	for range 5 {
		start := time.Now()
		opensAt(t, ctx, address, 1280)
		best = min(best, time.Since(start))
	}
	t.Logf("pack opened and drawn in %v, laid out %v times", best, layouts())
	assert.Less(t, best, soon)
	open(t, ctx, address, 1280)
	boxes := evaluate[int](t, ctx, `document.querySelectorAll('[data-drawn]').length`)
	require.Greater(t, boxes, 15, "or the page says nothing about many charts")
	before := layouts()
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(700, 900)))
	evaluate[any](t, ctx, `window.dispatchEvent(new Event('resize')); null`)
	require.Greater(t, layouts(), before)
	assert.Less(t, layouts()-before, 10.0, "the page is laid out again for each of %d charts", boxes)
}

// What is folded away is drawn when its fold opens, at the width it has then, and for paper.
func TestFoldedChartsAreDrawnInABrowser(t *testing.T) {
	ctx, h := browser(t)
	open(t, ctx, write(t, "pack"), 1280)
	const waiting = `document.querySelectorAll('[data-chart]:not([data-drawn])').length`
	folded := evaluate[int](t, ctx, waiting)
	require.Positive(t, folded)
	evaluate[any](t, ctx, `window.dispatchEvent(new Event('beforeprint')); null`)
	assert.Zero(t, evaluate[int](t, ctx, waiting), "for paper all are drawn")
	open(t, ctx, write(t, "pack"), 1280)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`details:has([data-chart]) > summary`), chromedp.WaitReady(`details[open] [data-drawn]`)))
	assert.Less(t, evaluate[int](t, ctx, waiting), folded)
	assert.InDelta(t, 1, evaluate[float64](t, ctx, `(d => d.querySelector('svg').getBoundingClientRect().width / d.closest('figure').clientWidth)(document.querySelector('details[open] [data-drawn]'))`), 0.01)
	_, errors := h.take()
	assert.Empty(t, errors)
}

// Printing opens every table and leaves the page as it was afterwards.
func TestPagesPrint(t *testing.T) {
	for _, name := range []string{"pack", "summary"} {
		t.Run(name, func(t *testing.T) {
			ctx, _ := browser(t)
			open(t, ctx, write(t, name), 1280)
			count := `[...document.querySelectorAll('details')].filter(d => !d.open).length`
			shut := evaluate[int](t, ctx, count)
			pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPrintBackground()))
			require.NoError(t, err)
			shutAfter := evaluate[int](t, ctx, count)
			assert.True(t, bytes.HasPrefix(pdf, []byte("%PDF-")))
			assert.Greater(t, len(pdf), 20_000)
			assert.Positive(t, shut)
			assert.Equal(t, shut, shutAfter)
			keep(t, name+".pdf", pdf)
		})
	}
}

func shoot(t *testing.T, ctx context.Context, file string) {
	t.Helper()
	if *shots == "" {
		return
	}
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	keep(t, file, png)
}
