package review

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
	"afterfit/internal/habit"
)

// denturesStore is an asker on some hundred invented cases, of which some patients have
// many dentures, some fields are empty and some clinicians are unlike each other.
func denturesStore(t *testing.T) *asker {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Cases: 500}))
	st := loaded(t, 2, dir)
	for _, change := range []string{
		`UPDATE cases SET patient_key = (SELECT min(patient_key) FROM cases) WHERE ascii(right(case_id, 1)) % 10 = 3`,
		`UPDATE cases SET lab = NULL, ridge_class = NULL WHERE ascii(right(case_id, 1)) % 10 = 5`,
		`UPDATE cases SET clinician = 'X' || right(case_id, 3) WHERE ascii(right(case_id, 1)) % 2 = 0`, // more than a byte holds
		`UPDATE cases SET observed_to_day = observed_to_day // 9 WHERE ascii(right(case_id, 1)) % 10 = 7`,
		`DELETE FROM trays WHERE ascii(right(case_id, 1)) % 10 = 1`,
		`DELETE FROM records WHERE ascii(right(case_id, 1)) % 10 = 2`,
	} {
		_, err := st.DB().Exec(change)
		require.NoError(t, err)
	}
	q, err := newAsker(context.Background(), st, DefaultSettings())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, q.c.Close()) })
	return q
}

// TestDenturesComeInPieces reads them in many pieces, and all at once.
func TestDenturesComeInPieces(t *testing.T) {
	ctx := context.Background()
	q := denturesStore(t)
	read := func(atOnce int64) *dentures {
		r := newDentureReader(q, allColumns)
		r.atOnce = atOnce
		require.NoError(t, r.read(ctx))
		return r.d
	}
	whole := read(numbersAtOnce)
	require.Greater(t, whole.n, 100)
	assert.Equal(t, whole, read(14))
}

// TestPatientsAlikeStandTogether sees each clinician come up once as that of patients' first
// dentures, and each combination of sex and age once within.
func TestPatientsAlikeStandTogether(t *testing.T) {
	d, err := denturesStore(t).dentures(context.Background())
	require.NoError(t, err)
	for _, columns := range [][]string{{"clinician"}, {"clinician", "course", "operator", "prior_denture", "sex", "age_band"}} {
		seen, last := map[string]bool{}, ""
		for _, i := range d.patients[:len(d.patients)-1] {
			at := ""
			for _, c := range columns {
				at += fmt.Sprint(d.codes[c].at(int(i)), " ")
			}
			require.False(t, at != last && seen[at], "%v come twice: %s", columns, at)
			seen[at], last = true, at
		}
		require.Greater(t, len(seen), 100)
	}
}

// TestDenturesSayWhatTheTablesSay holds every column read into memory to the words of the
// linked tables, denture by denture.
func TestDenturesSayWhatTheTablesSay(t *testing.T) {
	ctx := context.Background()
	q := denturesStore(t)
	d, err := q.dentures(ctx)
	require.NoError(t, err)
	require.Greater(t, len(d.codes["clinician"].levels), 255)
	coded := append([]string{"year", "quarter", "ridge_class"}, append(textColumns, codedColumns...)...)
	text := func(column string) string { return fmt.Sprintf("coalesce(CAST(%s AS VARCHAR), '-')", column) }
	var parts []string
	for _, c := range coded {
		parts = append(parts, text(c))
	}
	for _, h := range habit.Catalogue {
		parts = append(parts, text(h.Column()))
	}
	for _, v := range valueColumns {
		parts = append(parts, text("CAST("+v+" * 100 AS INTEGER)"))
	}
	filled := `(vdr_mm IS NOT NULL)::INTEGER + (vdo_mm IS NOT NULL)::INTEGER + (lip_mm IS NOT NULL)::INTEGER + (clearance_max_mm IS NOT NULL)::INTEGER + (band_seating <> 'not_recorded')::INTEGER`
	parts = append(parts, text(filled), text("vdo_mm % 5 = 0"), text("least(risk_days, 366)"), text("end_reason = 'died'"))
	rows, err := q.c.QueryContext(ctx, "SELECT denture_no, patient_no, "+strings.Join(parts, " || '|' || ")+" FROM linked_dentures")
	require.NoError(t, err)
	defer func() { require.NoError(t, rows.Close()) }()
	seen, last := 0, q.lastDay()
	require.Equal(t, 365, last)
	for rows.Next() {
		var no, patient int64
		var want string
		require.NoError(t, rows.Scan(&no, &patient, &want))
		i := int(d.row(no))
		require.GreaterOrEqual(t, i, 0)
		seen++
		var got []string
		for _, c := range coded {
			level := "-"
			if at := d.codes[c].at(i); at < len(d.codes[c].levels) {
				level = d.codes[c].levels[at]
			}
			got = append(got, level)
		}
		for _, h := range habit.Catalogue {
			got = append(got, []string{"false", "true", "-"}[sideOf(d.habits[h.Column()][i])])
		}
		for _, v := range valueColumns {
			value := "-"
			if e2 := d.values[v][i]; e2 != noValue {
				value = fmt.Sprint(e2)
			}
			got = append(got, value)
		}
		got = append(got, fmt.Sprint(d.filled[i]), []string{"false", "true", "-"}[d.onFive[i]], fmt.Sprint(d.left[i]/2), fmt.Sprint(d.left[i]%2 == 1))
		require.Equal(t, want, strings.Join(got, "|"), "denture %d", no)
		require.Equal(t, int32(no), d.no[i])
		p := 0
		for int(d.patients[p+1]) <= i {
			p++
		}
		require.Equal(t, int32(patient), d.numbers[p])
	}
	require.NoError(t, rows.Err())
	require.Equal(t, d.n, seen)
	require.Equal(t, -1, int(d.row(1<<30)))
}

// TestDenturesOutcomesAgreeWithStatements holds the events of every outcome and the shares
// of what was due to the statements that count them in the store.
func TestDenturesOutcomesAgreeWithStatements(t *testing.T) {
	ctx := context.Background()
	q := denturesStore(t)
	d, err := q.dentures(ctx)
	require.NoError(t, err)
	require.NoError(t, q.outcomeSheet(ctx))
	for i := range d.outcomes {
		sameAsSheet(t, q, d, &d.outcomes[i])
	}
}

func sameAsSheet(t *testing.T, q *asker, d *dentures, o *denturesOutcome) {
	t.Helper()
	events, seen := int64(0), 0
	rows, err := q.c.QueryContext(context.Background(), fmt.Sprintf("SELECT denture_no, y_%[1]s, s_%[1]s FROM outcome_sheet", o.Name))
	require.NoError(t, err)
	defer func() { assert.NoError(t, rows.Close()) }()
	for rows.Next() {
		var no int64
		var y, share sql.NullInt64
		require.NoError(t, rows.Scan(&no, &y, &share))
		i := int(d.row(no))
		seen++
		require.Equal(t, share.Int64, o.shareOf(i), "%s of %d", o.Name, no)
		if share.Valid {
			require.Equal(t, y.Int64, o.events(i), "%s of %d", o.Name, no)
			events += y.Int64
		}
	}
	require.NoError(t, rows.Err())
	require.Equal(t, d.n, seen)
	assert.Positive(t, events, o.Name)
}

func TestCodesByHand(t *testing.T) {
	c := newCodes([]uint32{2, 0, 1, 2, 4}, []string{"b", "a", "never", "b"})
	assert.Equal(t, []string{"a", "b"}, c.levels, "in order, each once, and only those that occur")
	at := func(c *codes) (out []int) {
		for i := range c.size() {
			out = append(out, c.at(i))
		}
		return out
	}
	assert.Equal(t, []int{0, 2, 1, 0, 1}, at(c))
	r := c.recorded()
	assert.Equal(t, []string{"a", "b", notRecorded}, r.levels)
	assert.Equal(t, []int{0, 2, 1, 0, 1}, at(r))
	both := c.and(newCodes([]uint32{1, 1, 1, 0, 2}, []string{"x", "y"}))
	assert.Equal(t, []string{"a|x", "b|x", "b|y"}, both.levels)
	assert.Equal(t, []int{0, 3, 1, 3, 2}, at(both))
	quarters := newCodes([]uint32{1, 2, 3, 4, 5, 0}, []string{"2024", "2024-03", "2024-04-30", "2024-Q2", "2025-12"}).renamed(quarterOf)
	assert.Equal(t, []string{"2024", "2024-Q1", "2024-Q2", "2025-Q4"}, quarters.levels)
	assert.Equal(t, []int{0, 1, 2, 2, 3, 4}, at(quarters))
	of, combined, err := combine(5, []*codes{c, both})
	require.NoError(t, err)
	assert.Equal(t, []int32{0, 4, 2, 1, 3}, of, "like the digits of a number, what is not recorded last")
	assert.Equal(t, [][]int{{0, 0}, {0, 3}, {1, 1}, {1, 2}, {2, 3}}, combined.of)
	_, place := rank([]int64{7, 3, 1 << 40}, 1<<41) // more than a table holds
	assert.Equal(t, [3]int32{1, 0, 2}, [3]int32{place(7), place(3), place(1 << 40)})
}

// TestWideSumIsExact adds products of every size and sign and compares with whole numbers
// of any size.
func TestWideSumIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	var s wideSum
	want := new(big.Int)
	for range 5000 {
		a, b := int64(rng.Uint64())>>rng.IntN(63), int64(rng.Uint64())>>rng.IntN(63)
		if rng.IntN(40) > 0 { // or products of the greatest numbers would soon leave 128 bits
			a >>= 16
		}
		if new(big.Int).Add(want, new(big.Int).Mul(big.NewInt(a), big.NewInt(b))).BitLen() > 126 {
			continue
		}
		s.add(a, b)
		want.Add(want, new(big.Int).Mul(big.NewInt(a), big.NewInt(b)))
		require.Equal(t, want.String(), s.exact().String())
		near, _ := new(big.Float).SetInt(want).Float64()
		require.LessOrEqual(t, math.Abs(s.value()-near), 1e-15*math.Abs(near))
	}
	assert.Positive(t, want.BitLen())
}
