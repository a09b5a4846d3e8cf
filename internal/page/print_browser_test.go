//go:build browser

package page

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/review"
)

// sheets prints the page that is open and returns the text of each sheet. It needs
// pdftotext of poppler-utils.
func sheets(t *testing.T, pdf []byte) []string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "print.pdf")
	require.NoError(t, os.WriteFile(path, pdf, 0o644))
	text, err := exec.CommandContext(t.Context(), "pdftotext", "-layout", path, "-").Output()
	require.NoError(t, err, "pdftotext is part of poppler-utils")
	return strings.Split(strings.TrimSuffix(string(text), "\f"), "\f")
}

func lines(sheet string) []string {
	var out []string
	for l := range strings.SplitSeq(sheet, "\n") {
		if strings.TrimSpace(l) != "" {
			out = append(out, strings.TrimSpace(l))
		}
	}
	return out
}

// mostSheets is what the canned pack may take, with all its tables.
const mostSheets = 30

// The pack on A4 and on Letter: the text first and its tables behind it, few sheets,
// none of them nearly bare, and no heading at the foot of one.
func TestPrintOfThePackIsShortInABrowser(t *testing.T) {
	ctx, _ := browser(t)
	open(t, ctx, write(t, "pack"), 2560)
	headings := evaluate[string](t, ctx, `[...document.querySelectorAll('h2, h3')].map(h => h.textContent.trim()).join('\n')`)
	for name, size := range map[string]chromedp.PaperSize{"a4": chromedp.PaperA4, "letter": chromedp.PaperLetter} {
		pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(size), chromedp.PDFPrintBackground()))
		require.NoError(t, err)
		all := sheets(t, pdf)
		t.Logf("%s: %d sheets", name, len(all))
		assert.LessOrEqual(t, len(all), mostSheets, name)
		tables := -1
		for i, s := range all {
			l := lines(s)
			assert.GreaterOrEqual(t, len(l), 5, "%s: sheet %d is nearly bare: %q", name, i+1, l)
			if strings.Contains("\n"+s, "\nTables\n") {
				tables = i
			}
			for _, h := range strings.Split(headings, "\n") {
				if n := len(l); n > 2 {
					assert.NotEqual(t, h, l[n-2], "%s: sheet %d ends with a heading", name, i+1) // the last line numbers the sheet
				}
			}
		}
		assert.Greater(t, tables, len(all)/4, name)
		keep(t, "pack-"+name+".pdf", pdf)
	}
	assert.Zero(t, evaluate[int](t, ctx, `document.querySelectorAll('#tables, .moved').length`), "the page is as it was")
}

// The hand-out is one sheet, of A4 and of Letter, whatever the findings.
func TestPrintOfTheHandOutIsOneSheetInABrowser(t *testing.T) {
	ctx, _ := browser(t)
	for name, f := range map[string]*review.Findings{"story": story(), "hostile": hostileStory(), "tiny": tinyStory()} {
		var b bytes.Buffer
		require.NoError(t, HandOut(&b, f, storyOptions()))
		assert.NotContains(t, b.String(), "<script", name)
		path := filepath.Join(t.TempDir(), "hand-out.html")
		require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
		require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900), chromedp.Navigate("file://"+path), chromedp.WaitReady(`#cautions`)))
		shoot(t, ctx, "hand-out-"+name+".png")
		for paper, size := range map[string]chromedp.PaperSize{"a4": chromedp.PaperA4, "letter": chromedp.PaperLetter} {
			pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(size), chromedp.PDFPrintBackground()))
			require.NoError(t, err)
			all := sheets(t, pdf)
			assert.Len(t, all, 1, "%s on %s", name, paper)
			assert.Contains(t, all[0], "Association is not cause", "%s on %s", name, paper)
			keep(t, "hand-out-"+name+"-"+paper+".pdf", pdf)
		}
	}
}
