package review

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// attack is what an attacker makes of one dimension's tables: a system of equations in
// the hidden counts, all of them from zero up. It is given more than a share form has:
// every shown figure's counts and all totals as they are, before any rounding.
type attack struct {
	columns int
	rows    []map[int]float64
	right   []float64
}

func (a *attack) unknown() int {
	a.columns++
	return a.columns - 1
}

func (a *attack) equation(row map[int]float64, right float64) {
	a.rows, a.right = append(a.rows, row), append(a.right, right)
}

// bounds are the least and the most that a sum of unknowns can be.
func (a *attack) bounds(t *testing.T, sum map[int]float64) (least, most float64) {
	t.Helper()
	m := mat.NewDense(len(a.rows), a.columns, nil)
	for i, row := range a.rows {
		for j, v := range row {
			m.Set(i, j, v)
		}
	}
	solve := func(sign float64) float64 {
		c := make([]float64, a.columns)
		for j, v := range sum {
			c[j] = sign * v
		}
		best, _, err := lp.Simplex(c, m, a.right, 1e-9, nil)
		require.NoError(t, err)
		return sign * best
	}
	return solve(1), solve(-1)
}

// shownTable is a dimension of one outcome with what of it is shown; all nil: left out.
// Its outcome may be part of that of an earlier table, whose place part is from 1 up.
type shownTable struct {
	cut
	shown []bool
	part  int
}

// protected attacks a dimension whose tables show the same groups, and returns what
// could be worked out: every hidden figure of 1 to 10 people must stay open at least
// from 1 to 10.
func protected(t *testing.T, tables []shownTable) (attacked int, broken []string) {
	t.Helper()
	a := &attack{}
	rows := tables[0].rows
	known := make([]bool, len(rows)) // whose size some table shows
	for _, tb := range tables {
		for i := range rows {
			known[i] = known[i] || tb.shown != nil && tb.shown[i]
		}
	}
	size, total, sum := make([]int, len(rows)), 0.0, map[int]float64{}
	for i, p := range rows {
		if !known[i] {
			size[i] = a.unknown()
			sum[size[i]], total = 1, total+float64(p.patients)
		}
	}
	if len(sum) > 0 {
		a.equation(sum, total)
	}
	type target struct {
		name string
		sum  map[int]float64
	}
	var targets []target
	for i, p := range rows {
		if !known[i] && tiny(p.patients) {
			targets = append(targets, target{"size of " + p.code, map[int]float64{size[i]: 1}})
		}
	}
	with := make([]map[int]int, len(tables)) // the unknown of each hidden figure
	for k, tb := range tables {
		with[k] = map[int]int{}
		if tb.shown == nil {
			continue
		}
		sum, total := map[int]float64{}, 0.0
		for i, p := range tb.rows {
			if tb.shown[i] {
				continue
			}
			y, rest := a.unknown(), a.unknown() // y + rest = size
			with[k][i] = y
			sum[y], total = 1, total+float64(p.withPatients)
			row, right := map[int]float64{y: 1, rest: 1}, float64(p.patients)
			if !known[i] {
				row[size[i]], right = -1, 0
			}
			a.equation(row, right)
			if tiny(p.withPatients) {
				targets = append(targets, target{fmt.Sprintf("table %d: with of %s", k, p.code), map[int]float64{y: 1}})
			}
			if tb.once && tiny(p.withoutPatients) {
				targets = append(targets, target{fmt.Sprintf("table %d: without of %s", k, p.code), map[int]float64{rest: 1}})
			}
		}
		if len(sum) > 0 {
			a.equation(sum, total)
		}
	}
	for k, tb := range tables {
		if tb.part > 0 {
			a.contain(tables[tb.part-1], with[tb.part-1], tb, with[k])
		}
	}
	for _, x := range targets {
		least, most := a.bounds(t, x.sum)
		if least > 1+1e-6 || most < 10-1e-6 {
			broken = append(broken, fmt.Sprintf("%s is known to be %.1f to %.1f", x.name, least, most))
		}
	}
	return len(targets), broken
}

// contain adds that nobody has the part who has not the whole.
func (a *attack) contain(whole shownTable, wholes map[int]int, part shownTable, parts map[int]int) {
	if whole.shown == nil || part.shown == nil {
		return
	}
	for i := range part.rows {
		w, hiddenWhole := wholes[i]
		p, hiddenPart := parts[i]
		slack := map[int]float64{}
		right := 0.0
		if hiddenWhole {
			slack[w] = -1
		} else {
			right += float64(whole.rows[i].withPatients)
		}
		if hiddenPart {
			slack[p] = 1
		} else {
			right -= float64(part.rows[i].withPatients)
		}
		if len(slack) > 0 {
			slack[a.unknown()] = 1
			a.equation(slack, right)
		}
	}
}

// someTables draws a dimension with three outcomes: one that recurs, one that counts
// once, and one that counts once and is part of the first.
func someTables(r *rand.Rand) []shownTable {
	n := 2 + r.IntN(6)
	tables := []shownTable{{}, {cut: cut{once: true}}, {cut: cut{once: true}, part: 1}}
	for i := range n {
		patients := int64(1 + r.IntN([]int{12, 40, 200}[r.IntN(3)]))
		for k := range tables {
			with := int64(float64(patients) * []float64{0, 0.05, 0.3, 0.9, 1}[r.IntN(5)])
			if k == 2 {
				with = int64(float64(tables[0].rows[i].withPatients) * []float64{0, 0.3, 0.8, 1}[r.IntN(4)])
			}
			tables[k].rows = append(tables[k].rows, people{code: fmt.Sprint(i), dentures: patients, patients: patients, events: with, withDentures: with, withPatients: with, withoutPatients: patients - with})
		}
	}
	return tables
}

// show marks what is not hidden, and counts it; nil is a table that is left out.
func show(t *testing.T, tb *shownTable, hidden []bool) (n int) {
	t.Helper()
	if hidden == nil {
		return 0
	}
	tb.shown = make([]bool, len(hidden))
	for i := range hidden {
		if tb.shown[i] = !hidden[i]; !hidden[i] {
			n++
			assert.False(t, tb.rows[i].unsafe(tb.once))
		}
	}
	return n
}

func total(rows []people) (all people) {
	for _, p := range rows {
		all.patients, all.withPatients, all.withoutPatients = all.patients+p.patients, all.withPatients+p.withPatients, all.withoutPatients+p.withoutPatients
	}
	return all
}

// TestHiddenFiguresCannotBeWorkedOut solves for every hidden figure of 1 to 10 people by
// linear programming, in tables drawn to be awkward.
func TestHiddenFiguresCannotBeWorkedOut(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	attacked, shown := 0, 0
	for range 600 {
		tables := someTables(r)
		for _, family := range [][]int{{0, 2}, {1}} {
			var cuts []cut
			var at []int
			for _, k := range family {
				if !total(tables[k].rows).unsafe(tables[k].once) { // else left out, as shareGroups does
					cuts, at = append(cuts, tables[k].cut), append(at, k)
				}
			}
			if len(cuts) == 0 {
				continue
			}
			for j, hidden := range hideTogether(cuts) {
				shown += show(t, &tables[at[j]], hidden)
			}
		}
		if total(tables[0].rows).patients < smallest {
			continue // nothing is shared at all
		}
		n, broken := protected(t, tables)
		attacked += n
		assert.Empty(t, broken, "%+v", tables)
	}
	assert.Greater(t, attacked, 200, "figures attacked")
	assert.Greater(t, shown, 400, "figures shown")
}

// TestAttackSeesPlainSuppression: without a second hidden figure the attack finds the
// first, so that it would find a fault of the rules.
func TestAttackSeesPlainSuppression(t *testing.T) {
	row := func(code string, patients, with int64) people {
		return people{code: code, dentures: patients, patients: patients, events: with, withPatients: with, withoutPatients: patients - with}
	}
	rows := []people{row("a", 40, 5), row("b", 60, 30), row("c", 50, 20)}
	n, broken := protected(t, []shownTable{{cut: cut{rows, true}, shown: []bool{false, true, true}}})
	assert.Equal(t, 1, n)
	assert.Equal(t, []string{"table 0: with of a is known to be 5.0 to 5.0"}, broken)
	hidden := hide(rows, true, make([]bool, 3))
	assert.Equal(t, []bool(nil), hidden, "one row would be left")
	rows = append(rows, row("d", 70, 35))
	assert.Equal(t, []bool{true, false, true, false}, hide(rows, true, make([]bool, 4)), "the smallest goes with it")
}

// TestSharedStoreCannotBeWorkedOut attacks the tables of a whole store.
func TestSharedStoreCannotBeWorkedOut(t *testing.T) {
	ctx := context.Background()
	q, err := newAsker(ctx, cleanStore(t), DefaultSettings())
	require.NoError(t, err)
	defer q.c.Close()
	require.NoError(t, q.exec(ctx, "group_rows"))
	require.NoError(t, q.exec(ctx, "share_rows"))
	out := &Shared{}
	require.NoError(t, q.shareGroups(ctx, out))
	outcomes, err := q.sharedOutcomes(ctx)
	require.NoError(t, err)
	attacked := 0
	for _, dimension := range sharedDimensions {
		var tables []shownTable
		sore := 0
		for _, o := range outcomes {
			groups, err := q.sharePeople(ctx, o.outcome, o.days)
			require.NoError(t, err)
			tb := shownTable{cut: cut{groups[dimension], o.once}}
			switch o.outcome {
			case Ulcer:
				tb.part = sore
			case SoreSpots:
				sore = len(tables) + 1
			}
			for _, g := range out.Groups {
				if g.Outcome == o.outcome && g.Dimension == dimension {
					tb.shown = make([]bool, len(tb.rows))
					for i, p := range tb.rows {
						for _, v := range g.Values {
							tb.shown[i] = tb.shown[i] || v.Code == p.code && v.Figure != nil
						}
						assert.False(t, tb.shown[i] && p.unsafe(o.once), "%s %s %s", o.outcome, dimension, p.code)
					}
				}
			}
			tables = append(tables, tb)
		}
		n, broken := protected(t, tables)
		attacked += n
		assert.Empty(t, broken, dimension)
	}
	assert.Positive(t, attacked)
}

// TestSharedFiguresFitManyCounts turns figures back into counts: every one shown must
// fit at least eight counts, its limits known or not.
func TestSharedFiguresFitManyCounts(t *testing.T) {
	for _, n := range []int64{30, 57, 200, 537, 2000} {
		fits := map[string]map[float64]int{"mean": {}, "share": {}, "count": {}, "part": {}}
		for k := int64(smallest); k <= n-smallest; k++ {
			e := Estimate{Value: Num(100 * float64(k) / float64(n)), Level: 0.95, N: n}
			e.High = e.Value + (100-e.Value)/3
			fits["mean"][float64(sharedMean(e, 100).Value)]++
			fits["share"][float64(sharedShare(e).Value)]++
			fits["count"][float64(sharedCount(k, n, 0.95, "", "", "").Value)]++
			fits["part"][float64(sharedPart(k, n, 0.95, "", "").Value)]++
		}
		for kind, counts := range fits {
			ends := 0
			for _, c := range counts {
				if c < 8 {
					ends++ // the range of k cuts the first and the last step off
				}
			}
			assert.LessOrEqual(t, ends, 2, "%s of %d: %v", kind, n, counts)
		}
	}
}

func TestSharedLimitsHoldTheFigure(t *testing.T) {
	for _, n := range []int64{12, 57, 537, 12345} {
		for _, v := range []float64{0, 0.5, 3, 40, 97, 100} {
			e := Estimate{Value: Num(v), Low: Num(v * 0.8), High: Num(math.Min(100, v*1.2)), Level: 0.95, N: n}
			for name, f := range map[string]*SharedFigure{"mean": sharedMean(e, 100), "share": sharedShare(e)} {
				if v == 100 && name == "mean" || f.High.Known() {
					assert.LessOrEqual(t, f.Low, f.Value+1e-9, "%s %v of %d", name, v, n)
					assert.GreaterOrEqual(t, f.High, f.Value-1e-9, "%s %v of %d", name, v, n)
				}
				assert.Zero(t, f.N%10)
			}
		}
	}
	r := sharedRatio(Estimate{Value: 1.337, Low: 1.12, High: 1.6, N: 457, Level: 0.95})
	assert.Equal(t, []any{Num(1.34), Num(1.12), Num(1.6), int64(400)}, []any{r.Value, r.Low, r.High, r.N})
	assert.Equal(t, []int64{9, 10, 90, 1000}, []int64{oneDigit(9), oneDigit(19), oneDigit(99), oneDigit(1999)})
}

var finePeriod = regexp.MustCompile(`20\d\d-(Q[1-4]|\d\d)`)

// TestSharedNamesNothingOfTheHouse looks for every code of the store in the share form's
// JSON, and for periods finer than years.
func TestSharedNamesNothingOfTheHouse(t *testing.T) {
	ctx := context.Background()
	st := cleanStore(t)
	one, err := Share(ctx, st, DefaultSettings(), Header{Version: "test"}, "a seed")
	require.NoError(t, err)
	raw, err := json.Marshal(one)
	require.NoError(t, err)
	text := string(raw)
	rows, err := st.DB().Query(`SELECT DISTINCT unnest([case_id, patient_key, site, clinician, lab]) FROM cases`)
	require.NoError(t, err)
	defer rows.Close()
	codes := 0
	for rows.Next() {
		var code *string
		require.NoError(t, rows.Scan(&code))
		if code != nil {
			codes++
			assert.NotContains(t, text, `"`+*code+`"`)
		}
	}
	require.NoError(t, rows.Err())
	assert.Greater(t, codes, 600)
	assert.NotRegexp(t, finePeriod, text)
	fingerprint, err := st.Fingerprint(ctx)
	require.NoError(t, err)
	assert.NotContains(t, text, fingerprint)
	assert.NotContains(t, text, "a seed")
	assert.NotEmpty(t, one.Findings)
	assert.NotContains(t, text, "Too few")
	assert.NotContains(t, text, "; only")

}

// TestFreshCodesFollowTheSeedAlone: another seed gives another order, and a site has
// one code in all tables.
func TestFreshCodesFollowTheSeedAlone(t *testing.T) {
	form := func(seed string) string {
		s := &Shared{}
		for _, outcome := range []string{"a", "b"} {
			g := SharedGroup{Outcome: outcome, Dimension: "site"}
			for i, code := range strings.Split("N E S W X Y Z Q R T U", " ") {
				g.Values = append(g.Values, SharedValue{Code: code, Figure: &SharedFigure{N: int64(10 * i)}})
			}
			s.Groups = append(s.Groups, g)
		}
		s.freshCodes("site", seed)
		order := func(g SharedGroup) (out string) {
			for i, v := range g.Values {
				assert.Equal(t, fmt.Sprintf("site %d", i+1), v.Code)
				out += fmt.Sprint(v.Figure.N, " ")
			}
			return out
		}
		assert.Equal(t, order(s.Groups[0]), order(s.Groups[1]))
		return order(s.Groups[0])
	}
	assert.Equal(t, form("x"), form("x"))
	assert.NotEqual(t, form("x"), form("y"))
	assert.NotEqual(t, "0 10 20 30 40 50 60 70 80 90 100 ", form("x"))
}

// TestFindingNeedsPeopleOnBothSides holds each of its limits at the edge.
func TestFindingNeedsPeopleOnBothSides(t *testing.T) {
	p := Pair{}
	p.Within.With.N, p.Within.Without.N, p.Within.Ratio.N, p.Within.Ratio.Value, p.Within.Ratio.High = 22, 78, 100, 1.5, 2
	full := func() sides {
		var s sides
		for i := range s {
			s[i].patients, s[i].withOutcome, s[i].mostDentures = 11, 11, 2
		}
		return s
	}
	assert.True(t, p.shareable(full()))
	for i := range 2 {
		s := full()
		s[i].patients = 10
		assert.False(t, p.shareable(s))
		s = full()
		s[i].withOutcome = 10
		assert.False(t, p.shareable(s))
		s = full()
		s[i].mostDentures = 8
		assert.False(t, p.shareable(s))
	}
	p.Within.With.N = 21
	assert.False(t, p.shareable(full()))
	p.Within.With.N, p.Within.Ratio.N = 22, 99
	assert.False(t, p.shareable(full()))
}
