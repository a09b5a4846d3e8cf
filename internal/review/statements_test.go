package review

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/store"
)

// The statements of a review that pick, group and join by numbers, each asked here of the rows
// as loaded, in words and the long way.
const (
	coverageInWords = `SELECT coalesce((SELECT min(records_on) FROM cases), ''), coalesce((SELECT max(records_on) FROM cases), ''),
       (SELECT count(*) FROM cases), (SELECT count(DISTINCT patient_key) FROM cases), (SELECT count(DISTINCT site) FROM cases), (SELECT count(DISTINCT clinician) FROM cases),
       (SELECT count(*) FROM linked_dentures), (SELECT count(*) FROM dentures WHERE delivered_day IS NULL),
       (SELECT count(*) FROM dentures o JOIN cases c USING (case_id) WHERE o.delivered_day > c.observed_to_day),
       (SELECT CAST(median(risk_days) AS DOUBLE) FROM linked_dentures), (SELECT count(*) FROM linked_dentures WHERE risk_days >= 365),
       (SELECT count(*) FROM linked_firsts WHERE outcome = 'planned_visit' AND day <= CAST($1 AS INTEGER)),
       (SELECT count(*) FROM visits WHERE arch IS NULL),
       (SELECT count(*) FROM visits v JOIN (SELECT case_id, min(delivered_day) AS first_day FROM dentures GROUP BY case_id) f USING (case_id) WHERE v.day < f.first_day),
       (SELECT count(*) FROM set_aside a WHERE NOT EXISTS (SELECT 1 FROM corrected k WHERE k.of_load = a.load_id AND k.table_name = a.table_name AND k.file = a.file AND k.line = a.line AND k.column_name IS NOT DISTINCT FROM a.column_name))`
	lesionsInWords = `WITH seen AS (
    SELECT v.case_id, p.arch AS arch, p.zone AS zone, p.side AS side, v.day
    FROM sore_spots p JOIN visits v USING (visit_id)
), apart AS (
    SELECT case_id, arch, zone, coalesce(side, '') AS side,
           min(day) AS first_day, max(day) AS last_day
    FROM seen
    GROUP BY case_id, arch, zone, side
    HAVING max(day) - min(day) >= CAST($1 AS INTEGER)
)
SELECT p.case_id, c.clinician, p.arch, p.zone, p.side, p.first_day, p.last_day,
       CASE WHEN p.last_day - p.first_day >= CAST($2 AS INTEGER) THEN 'check' ELSE 'look' END AS level
FROM apart p JOIN cases c USING (case_id)
WHERE NOT EXISTS (SELECT 1 FROM visits r WHERE r.case_id = p.case_id AND r.lesion_review = 'yes' AND r.day >= p.last_day)
ORDER BY level, c.clinician, p.case_id, p.arch, p.zone, p.side`
	openInWords = `WITH found AS MATERIALIZED (
    SELECT case_id, 'remake_without_cause' AS rule, arch || ' remade, no cause recorded' AS fact, 3 AS weight
    FROM remakes WHERE scope = 'remake' AND coalesce(cause, 'unknown') = 'unknown'
    UNION ALL
    SELECT d.case_id, 'many_visits', d.arch || ': ' || CAST(v.n AS VARCHAR) || ' adjustment visits', 2
    FROM (SELECT denture_no, count(*) AS n FROM linked_events WHERE outcome = 'adjustment_visits' GROUP BY denture_no HAVING count(*) >= CAST($1 AS INTEGER)) v
    JOIN linked_dentures d USING (denture_no)
    UNION ALL
    SELECT v.case_id, 'ulcer_twice', p.arch || ': ulcer at ' || CAST(count(DISTINCT v.visit_id) AS VARCHAR) || ' visits', 3
    FROM sore_spots p JOIN visits v USING (visit_id) WHERE p.grade = 3 GROUP BY v.case_id, p.arch HAVING count(DISTINCT v.visit_id) >= 2
    UNION ALL
    SELECT case_id, 'does_not_add_up', 'freeway space written down differs from rest minus occlusion', 1
    FROM linked_dentures WHERE h_does_not_add_up
    UNION ALL
    SELECT case_id, 'partial_seating_remade', arch || ': tray not fully seated, denture remade', 3
    FROM linked_dentures WHERE h_partial_seating_used AND end_reason = 'remade'
    UNION ALL
    SELECT case_id, 'unsound_copied_remade', arch || ': vertical copied from an unsound denture, denture remade', 3
    FROM linked_dentures WHERE h_vertical_from_unsound AND end_reason = 'remade'
)
SELECT case_id, any_value(c.site) AS site, any_value(c.clinician) AS clinician, rule, string_agg(DISTINCT fact, '; ' ORDER BY fact) AS fact, CAST(max(weight) AS BIGINT) AS weight
FROM found JOIN cases c USING (case_id)
GROUP BY case_id, rule
ORDER BY case_id, rule`
	takesInWords = `WITH takes AS (
    SELECT r.case_id, count(*) FILTER (r.measure = 'vdr') AS vdr, count(*) FILTER (r.measure = 'vdo') AS vdo
    FROM readings r
    JOIN cases c USING (case_id)
    WHERE coalesce(r.reader, c.clinician) = c.clinician
    GROUP BY r.case_id
    HAVING vdr > 1 OR vdo > 1
)
SELECT CAST(d.denture_no AS BIGINT) * 65536 + 256 * t.vdr + t.vdo
FROM linked_made d
JOIN linked_cases c ON c.case_no = d.denture_no - d.denture_no % 2
JOIN takes t USING (case_id)`
	readingsInWords = `WITH own AS (
    SELECT r.case_id, r.measure, CAST(round(r.value_mm * 100) AS BIGINT) AS v
    FROM readings r
    JOIN cases c USING (case_id)
    WHERE coalesce(r.reader, c.clinician) = c.clinician
), by_case AS (
    SELECT case_id, measure, count(*) AS takes, count(*) * sum(v * v) - sum(v) * sum(v) AS squares
    FROM own
    GROUP BY case_id, measure
)
SELECT measure, takes, count(*) AS cases, CAST(sum(squares) AS BIGINT) AS squares_e4
FROM by_case
GROUP BY measure, takes
ORDER BY measure, takes`
	finenessInWords = `SELECT count(*), count(*) FILTER (length(records_on) >= 7 AND records_on NOT LIKE '%Q%'), count(*) FILTER (length(records_on) > 4) FROM linked_dentures`
)

// answerLines puts the rows of a statement as text, one line each.
func answerLines(t *testing.T, q *asker, statement string, args ...any) (out []string) {
	t.Helper()
	rows, err := q.c.QueryContext(context.Background(), statement, args...)
	require.NoError(t, err)
	defer rows.Close()
	columns, err := rows.Columns()
	require.NoError(t, err)
	for rows.Next() {
		values, into := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		require.NoError(t, rows.Scan(into...))
		out = append(out, strings.TrimSpace(fmt.Sprintln(values...)))
	}
	require.NoError(t, rows.Err())
	return out
}

func TestCoverageAgreesWithRowsInWords(t *testing.T) {
	q := summaryStore(t)
	var want, got coverageRow
	require.NoError(t, q.c.QueryRowContext(context.Background(), coverageInWords, q.s.AdjustmentDays).Scan(want.into()...))
	require.NoError(t, q.eachFilled(context.Background(), "coverage", linkFill, func(rows *sql.Rows) error { return rows.Scan(got.into()...) }, q.s.AdjustmentDays))
	assert.Equal(t, want, got)
	for _, n := range []int64{want.Cases - want.Patients, want.Undelivered, want.unobserved, want.fullYear, want.attended, want.NoArchVisits, want.BeforeDelivery} {
		require.Positive(t, n, "nothing to see")
	}
}

func TestOwnCoverageAgreesWithRowsInWords(t *testing.T) {
	ctx, q := context.Background(), summaryStore(t)
	got, err := q.ownCoverage(ctx)
	require.NoError(t, err)
	const long = `SELECT clinician, min(records_on), max(records_on), count(*), count(DISTINCT patient_key), count(DISTINCT site),
		(SELECT count(*) FROM linked_dentures d WHERE d.clinician = c.clinician),
		(SELECT CAST(median(risk_days) AS DOUBLE) FROM linked_dentures d WHERE d.clinician = c.clinician),
		(SELECT count(*) FROM linked_dentures d WHERE d.clinician = c.clinician AND risk_days >= 365),
		(SELECT count(*) FROM linked_dentures d JOIN linked_firsts f USING (denture_no) WHERE d.clinician = c.clinician AND f.outcome = 'planned_visit' AND f.day <= CAST($1 AS INTEGER))
		FROM cases c GROUP BY clinician ORDER BY clinician`
	want := answerLines(t, q, long, q.s.AdjustmentDays)
	require.Len(t, got, len(want))
	for _, line := range want {
		code, _, _ := strings.Cut(line, " ")
		r := got[code]
		assert.Equal(t, line, strings.TrimSpace(fmt.Sprintln(code, r.FirstPeriod, r.LastPeriod, r.Cases, r.Patients, r.Sites, r.Delivered, r.median.Float64, r.fullYear, r.attended)))
	}
}

func TestLesionsAgreeWithRowsInWords(t *testing.T) {
	q := summaryStore(t)
	got, err := q.lesions(context.Background())
	require.NoError(t, err)
	var lines []string
	levels, sides := map[string]int{}, map[string]int{}
	for _, l := range got {
		lines = append(lines, strings.TrimSpace(fmt.Sprintln(l.CaseID, l.Clinician, l.Arch, l.Zone, l.Side, l.FirstDay, l.LastDay, l.Level)))
		levels[l.Level], sides[l.Side] = levels[l.Level]+1, sides[l.Side]+1
	}
	assert.Equal(t, answerLines(t, q, lesionsInWords, q.s.LookDays, q.s.CheckDays), lines)
	require.Len(t, levels, 2)
	require.Len(t, sides, 4, "one of them not recorded")
}

func TestOpenCasesAgreeWithRowsInWords(t *testing.T) {
	q := summaryStore(t)
	q.s.OpenCases = 1_000_000
	got, err := q.openCases(context.Background(), false)
	require.NoError(t, err)
	var lines []string
	rules := map[string]int{}
	for _, c := range got {
		for i, rule := range c.Reasons {
			rules[rule]++
			lines = append(lines, strings.Join([]string{c.CaseID, c.Site, c.Clinician, rule, c.Facts[i]}, " "))
		}
	}
	slices.Sort(lines)
	var want []string
	for _, line := range answerLines(t, q, openInWords, q.s.ManyVisits) {
		want = append(want, line[:len(line)-2]) // the weight
	}
	slices.Sort(want)
	assert.Equal(t, want, lines)
	require.Len(t, rules, 6, "%v", rules)
}

// Readings count where their reader is the case's clinician, or not named.
func TestReadingsAgreeWithRowsInWords(t *testing.T) {
	ctx, q := context.Background(), summaryStore(t)
	const other = `UPDATE readings r SET reader = CASE WHEN take % 3 = 0 THEN 'somebody' WHEN ascii(right(r.case_id, 1)) % 3 = 0 THEN c.clinician END FROM cases c WHERE c.case_id = r.case_id`
	_, err := q.c.ExecContext(ctx, other)
	require.NoError(t, err)
	readers := answerLines(t, q, "SELECT count(*) FILTER (reader IS NULL) > 50, count(*) FILTER (reader = 'somebody') > 50, count(*) FILTER (reader <> 'somebody') > 50 FROM readings")
	require.Equal(t, []string{"true true true"}, readers)
	d, err := q.dentures(ctx)
	require.NoError(t, err)
	got, err := q.readings(ctx)
	require.NoError(t, err)
	want := &readings{by: map[string]scatter{}, vdr: slices.Repeat([]uint8{1}, d.n), vdo: slices.Repeat([]uint8{1}, d.n)}
	rows, err := q.c.QueryContext(ctx, takesInWords)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var n int64
		require.NoError(t, rows.Scan(&n))
		i := d.row(n >> 16)
		want.vdr[i], want.vdo[i] = uint8(max(1, n>>8&255)), uint8(max(1, n&255))
	}
	require.NoError(t, rows.Err())
	assert.Equal(t, want.vdr, got.vdr)
	assert.Equal(t, want.vdo, got.vdo)
	require.Greater(t, slices.Max(want.vdr), uint8(1))
	rows, err = q.c.QueryContext(ctx, readingsInWords)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var measure string
		var takes, cases, squares int64
		require.NoError(t, rows.Scan(&measure, &takes, &cases, &squares))
		if s := want.by[measure]; takes > 1 {
			want.by[measure] = scatter{s.squares + float64(squares)/1e4/float64(takes), s.df + cases*(takes-1)}
		}
	}
	require.NoError(t, rows.Err())
	assert.Equal(t, want.by, got.by)
	require.Len(t, got.by, 3)
}

func TestFinenessAgreesWithRowsInWords(t *testing.T) {
	ctx, q := context.Background(), summaryStore(t)
	d, err := q.dentures(ctx)
	require.NoError(t, err)
	for _, c := range []struct {
		kind                  string
		years, quarters, days int // of 200 dentures
	}{{byMonth, 0, 2, 198}, {byQuarter, 0, 3, 197}, {byQuarter, 2, 1, 197}, {byYear, 3, 0, 197}, {byMonth, 0, 0, 200}} {
		of := slices.Concat(slices.Repeat([]uint32{1}, c.years), slices.Repeat([]uint32{2}, c.quarters), slices.Repeat([]uint32{3}, c.days/2), slices.Repeat([]uint32{4}, c.days-c.days/2))
		kind, lost := (&dentures{n: 200, codes: map[string]*codes{"records_on": newCodes(of, []string{"2024", "2024-Q2", "2024-05", "2024-05-09"})}}).fineness()
		assert.Equal(t, c.kind, kind)
		assert.EqualValues(t, map[string]int{byMonth: c.years + c.quarters, byQuarter: c.years, byYear: 0}[c.kind], lost, c.kind)
	}
	kind, lost := d.fineness()
	var all, months, quarters int64
	require.NoError(t, q.c.QueryRowContext(ctx, finenessInWords).Scan(&all, &months, &quarters))
	assert.Equal(t, byMonth, kind)
	assert.Equal(t, all-months, lost)
	assert.EqualValues(t, d.n, all)
}

// TestWholeNumbersAreNeverNone: a row without a number is no number of zero.
func TestWholeNumbersAreNeverNone(t *testing.T) {
	c, err := cleanStore(t).DB().Conn(context.Background())
	require.NoError(t, err)
	defer func() { require.NoError(t, c.Close()) }()
	read := func(query string) (got []int64, err error) {
		err = store.Chunks(context.Background(), c, query, []string{"n"}, func(c store.Chunk) (err error) {
			got, err = wholeNumbers(c, 0, got)
			return err
		})
		return got, err
	}
	got, err := read("SELECT unnest([7, 0, -3])::BIGINT AS n")
	require.NoError(t, err)
	assert.ElementsMatch(t, []int64{7, 0, -3}, got)
	_, err = read("SELECT unnest([7, NULL, -3])::BIGINT AS n")
	assert.EqualError(t, err, "a row has no number in column 1")
}
