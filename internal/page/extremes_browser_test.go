//go:build browser

package page

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
	"afterfit/internal/demo"
	"afterfit/internal/intake"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

// rewrite passes a table's rows, as cells by column, through a function that may change
// them, and keeps those for which it says so.
func rewrite(t *testing.T, dir, table string, change func(row map[string]string) bool) {
	t.Helper()
	path := filepath.Join(dir, table+".csv")
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	rows, err := csv.NewReader(bytes.NewReader(raw)).ReadAll()
	require.NoError(t, err)
	out := [][]string{rows[0]}
	for _, r := range rows[1:] {
		cells := map[string]string{}
		for i, name := range rows[0] {
			cells[name] = r[i]
		}
		if !change(cells) {
			continue
		}
		kept := make([]string, len(r))
		for i, name := range rows[0] {
			kept[i] = cells[name]
		}
		out = append(out, kept)
	}
	var b bytes.Buffer
	require.NoError(t, csv.NewWriter(&b).WriteAll(out))
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
}

// cleared lets a bundle's invented keys pass, whose gaps look like chart numbers.
const cleared = "[[cleared]]\ntable = \"cases\"\ncolumn = \"patient_key\"\nkind = \"chart_number\"\nreason = \"running numbers of an invented service, some left out\"\n"

// keepCases cuts a bundle down to some of its cases, with all that hangs on them.
func keepCases(t *testing.T, dir string, wanted func(row map[string]string) bool) {
	t.Helper()
	note, err := os.OpenFile(filepath.Join(dir, "bundle.toml"), os.O_APPEND|os.O_WRONLY, 0o600)
	require.NoError(t, err)
	_, err = note.WriteString(cleared)
	require.NoError(t, err)
	require.NoError(t, note.Close())
	kept := map[string]bool{}
	for _, table := range bundle.Tables {
		rewrite(t, dir, table.Name, func(row map[string]string) bool {
			in := table.Parent == "" && wanted(row) || table.Parent != "" && kept[row[table.ParentBy]]
			if len(table.Key) == 1 && in {
				kept[row[table.Key[0]]] = true
			}
			if row["remake_of"] != "" && !kept[row["remake_of"]] {
				row["remake_of"] = ""
			}
			return in
		})
	}
}

// unrecorded empties every cell of a table that the contract lets be empty.
func unrecorded(t *testing.T, dir string, tables ...string) {
	t.Helper()
	for _, name := range tables {
		at := slices.IndexFunc(bundle.Tables, func(x bundle.Table) bool { return x.Name == name })
		table := bundle.Tables[at]
		rewrite(t, dir, name, func(row map[string]string) bool {
			for _, c := range table.Columns {
				if !c.Required && !slices.Contains(table.Key, c.Name) && c.Name != table.ParentBy {
					row[c.Name] = ""
				}
			}
			return true
		})
	}
}

// found reviews an invented bundle after it was changed.
func found(t *testing.T, opt demo.Options, change func(dir string)) *review.Findings {
	t.Helper()
	ctx, dir := context.Background(), t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, opt))
	change(dir)
	st, err := store.Open(ctx, "", store.Options{TempDir: t.TempDir()})
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	_, err = intake.Load(ctx, st, dir, intake.LoadOptions{Strict: true})
	require.NoError(t, err)
	f, err := review.Run(ctx, st, review.DefaultSettings(), review.Header{Version: "0.1.0"})
	require.NoError(t, err)
	return f
}

// extremes are services at the edge of what a pack is for, each proven to be so.
func extremes(t *testing.T) map[string]*review.Findings {
	t.Helper()
	out := map[string]*review.Findings{}
	out["one-case"] = found(t, demo.Options{Cases: 1}, func(string) {})
	require.EqualValues(t, 1, out["one-case"].Coverage.Cases)
	out["no-remake"] = found(t, demo.Options{Cases: 600}, func(dir string) {
		keepCases(t, dir, func(row map[string]string) bool { row["remake_of"] = ""; return row["clinician"] == "D09" })
		rewrite(t, dir, "remakes", func(map[string]string) bool { return false })
	})
	require.EqualValues(t, 1, out["no-remake"].Coverage.Clinicians)
	require.Greater(t, out["no-remake"].Coverage.Delivered, int64(20))
	out["nothing-recorded"] = found(t, demo.Options{Cases: 400}, func(dir string) {
		unrecorded(t, dir, "records", "trays")
		rewrite(t, dir, "readings", func(map[string]string) bool { return false })
	})
	wide := map[string]bool{}
	out["many-units"] = found(t, demo.Options{Cases: 2400, Services: 8}, func(dir string) {
		keepCases(t, dir, func(row map[string]string) bool {
			if !wide[row["clinician"]] && len(wide) >= 60 {
				return false
			}
			wide[row["clinician"]] = true
			return true
		})
	})
	require.EqualValues(t, 60, out["many-units"].Coverage.Clinicians)
	require.EqualValues(t, 24, out["many-units"].Coverage.Sites)
	return out
}

// bareCharts lists charts without a figure, and charts of rows that stand too close for
// their two lines of text.
const bareCharts = `JSON.stringify([...document.querySelectorAll('[data-chart]')].map(box => {
  const option = JSON.parse(document.getElementById(box.dataset.chart).textContent);
  const told = option.series.filter(s => s.renderItem !== 'rule').some(s => s.data.some(d => { const v = d.value === undefined ? d : d.value; return (Array.isArray(v) ? v[1] : v) !== null; }));
  const rows = option.series.filter(s => s.renderItem === 'rows').reduce((n, s) => n + s.data.length, 0);
  const shown = box.dataset.drawn ? box.getBoundingClientRect().height : 0;
  return !told ? 'empty: ' + box.dataset.chart : shown > 0 && rows > 0 && (shown - 84) / rows < 32 ? 'rows too close: ' + box.dataset.chart + ', ' + rows : '';
}).filter(s => s))`

func list(t *testing.T, ctx context.Context, script string) []string {
	t.Helper()
	var out []string
	require.NoError(t, json.Unmarshal([]byte(evaluate[string](t, ctx, script)), &out))
	return out
}

// Packs of extreme services are drawn and printed like any other: nothing is complained
// of, cut off or empty, and what cannot be told is said.
func TestExtremePacksInABrowser(t *testing.T) {
	for name, f := range extremes(t) {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, Pack(&b, f, storyOptions()))
			keep(t, "extreme-"+name+".html", b.Bytes())
			path := filepath.Join(t.TempDir(), name+".html")
			require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
			ctx, h := browser(t)
			for _, width := range []int64{360, 1280} {
				open(t, ctx, "file://"+path, width)
				s := seen(t, ctx)
				assert.Equal(t, s.Boxes, s.Drawn)
				assert.Empty(t, list(t, ctx, bareCharts), "at %d", width)
				shoot(t, ctx, fmt.Sprintf("extreme-%s-%d.png", name, width))
				assert.Empty(t, reaching(t, ctx), "at %d", width)
				assert.Empty(t, list(t, ctx, bareCharts), "at %d, all open", width)
				requests, errors := h.take()
				assert.Equal(t, []string{"file://" + path}, requests)
				assert.Empty(t, errors)
			}
			text := evaluate[string](t, ctx, `document.body.innerText`)
			assert.NotRegexp(t, `NaN|undefined|null|Infinity|\(– to|–%`, text)
			assert.Regexp(t, `[Tt]oo few`, text)
			open(t, ctx, "file://"+path, paper)
			_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
			require.NoError(t, err)
			evaluate[any](t, ctx, `window.dispatchEvent(new Event('beforeprint')); null`)
			assert.Empty(t, list(t, ctx, clipped))
			assert.Empty(t, list(t, ctx, bareCharts), "on paper")
		})
	}
}
