package review

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// writtenDown is what exports say of each delivered denture, by the view's columns: written
// down as it is in the contract's tables, without any of the numbers that the link packs.
var writtenDown = map[string]string{
	"age_band":        "c.age_band",
	"sex":             "c.sex",
	"ridge_class":     "c.ridge_class",
	"prior_denture":   "c.prior_denture",
	"course":          "c.course",
	"operator":        "c.operator",
	"end_reason":      "CASE WHEN d.end_reason = 'remade' THEN 'remade' ELSE coalesce(c.observed_end, 'unknown') END",
	"vdr_mm":          "r.vdr_mm",
	"vdo_mm":          "r.vdo_mm",
	"lip_mm":          "r.lip_mm",
	"vertical_basis":  "coalesce(nullif(r.vertical_basis, 'unknown'), 'not_recorded')",
	"centric_method":  "coalesce(nullif(r.centric_method, 'unknown'), 'not_recorded')",
	"technique":       "coalesce(nullif(t.technique, 'unknown'), 'not_recorded')",
	"sized_by":        "coalesce(nullif(t.sized_by, 'unknown'), 'not_recorded')",
	"band_seating":    "coalesce(nullif(t.seating, 'unknown'), 'not_recorded')",
	"band_discomfort": "coalesce(nullif(t.discomfort, 'unknown'), 'not_recorded')",
	"band_touches":    "CASE WHEN t.touches IS NULL THEN 'not_recorded' ELSE d.band_touches END",
	"band_clearance":  "CASE WHEN t.clearance_min_mm IS NULL OR t.clearance_max_mm IS NULL THEN 'not_recorded' ELSE d.band_clearance END",
	"band_display":    "CASE WHEN d.arch = 'upper' AND d.display_off_mm IS NULL THEN 'not_recorded' WHEN d.arch = 'upper' THEN d.band_display END",
	"palate_mm":       "t.palate_mm",
	"tries":           "t.tries",
}

// TestPackedColumnsGiveBackWhatWasWrittenDown holds codes and first relines to the rows of
// invented cases that lack a bit of everything.
func TestPackedColumnsGiveBackWhatWasWrittenDown(t *testing.T) {
	ctx := context.Background()
	e := &exporter{Rand: rand.New(rand.NewPCG(4, 8)), t: t, dir: t.TempDir()}
	st := loaded(t, 1)
	e.everyCase(ctx, st)
	const joined = `linked_dentures d JOIN cases c USING (case_id) LEFT JOIN records r USING (case_id) LEFT JOIN trays t ON t.case_id = d.case_id AND t.arch = d.arch`
	for column, said := range writtenDown {
		var all, other, kinds int
		require.NoError(t, st.DB().QueryRowContext(ctx, fmt.Sprintf("SELECT count(*), count(*) FILTER (d.%[1]s IS DISTINCT FROM %[2]s), count(DISTINCT coalesce(CAST(d.%[1]s AS VARCHAR), '-')) FROM %[3]s", column, said, joined)).
			Scan(&all, &other, &kinds))
		assert.Greater(t, all, 50)
		assert.Zero(t, other, column)
		if column != "palate_mm" {
			assert.Greater(t, kinds, 1, "%s is always the same", column)
		}
	}
	var relined, differ, late int
	require.NoError(t, st.DB().QueryRowContext(ctx, `
WITH told AS (
    SELECT d.denture_no, min(m.day - d.delivered_day) FILTER (m.day <= d.end_day) AS day, count(*) FILTER (m.day > d.end_day) AS late
    FROM linked_dentures d JOIN remakes m ON m.case_id = d.case_id AND m.arch = d.arch AND m.scope IN ('reline', 'rebase') AND m.day >= d.delivered_day
    GROUP BY d.denture_no
)
SELECT count(*) FILTER (t.day IS NOT NULL), count(*) FILTER (t.day IS DISTINCT FROM f.day), count(*) FILTER (t.late > 0)
FROM told t FULL JOIN (FROM linked_firsts WHERE outcome = 'reline') f USING (denture_no)`).Scan(&relined, &differ, &late))
	assert.Greater(t, relined, 5)
	assert.Greater(t, late, 1, "no reline came after the end")
	assert.Zero(t, differ)
}
