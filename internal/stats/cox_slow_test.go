package stats

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// slowCox is the log partial likelihood written out: every observation one by one,
// every step of every tie with its own sum over everybody at risk.
func slowCox(p CoxPatterns, rows []CoxRow, opt CoxOptions, beta []float64) float64 {
	people := expandCox(rows)
	risk := func(i int) float64 {
		eta := 0.0
		for k, b := range beta {
			eta += b * p.X[i*len(beta)+k]
		}
		if p.Offset != nil {
			eta += p.Offset[i]
		}
		return math.Exp(eta)
	}
	stratum := func(r CoxRow) int {
		if p.Stratum == nil {
			return 0
		}
		return p.Stratum[r.Pattern]
	}
	ll := 0.0
	for i, event := range people {
		if !event.Event {
			continue
		}
		tied, before := 0.0, 0.0
		for j, other := range people {
			if other.Event && other.Time == event.Time && stratum(other) == stratum(event) {
				tied++
				if j < i {
					before++
				}
			}
		}
		sum := 0.0
		for _, r := range people {
			if stratum(r) != stratum(event) || r.Time < event.Time || opt.LeftTruncated && r.Entry >= event.Time {
				continue
			}
			share := 1.0
			if r.Event && r.Time == event.Time && !opt.Breslow {
				share -= before / tied
			}
			sum += share * risk(r.Pattern)
		}
		ll += math.Log(risk(event.Pattern)) - math.Log(sum)
	}
	return ll
}

func expandCox(rows []CoxRow) []CoxRow {
	var people []CoxRow
	for _, r := range rows {
		n := int(r.Count)
		r.Count = 1
		for range n {
			people = append(people, r)
		}
	}
	return people
}

// drawCox draws small heavily tied data with two columns, offsets and strata.
func drawCox(t *rapid.T) (CoxPatterns, []CoxRow, CoxOptions) {
	p := CoxPatterns{Names: []string{"a", "b"}}
	n := rapid.IntRange(4, 8).Draw(t, "patterns")
	for range n {
		p.X = append(p.X, rapid.Float64Range(-1, 1).Draw(t, "x"), float64(rapid.IntRange(0, 2).Draw(t, "z")))
		p.Offset = append(p.Offset, rapid.Float64Range(-1, 1).Draw(t, "offset"))
		p.Stratum = append(p.Stratum, rapid.IntRange(3, 4).Draw(t, "stratum"))
	}
	opt := CoxOptions{Breslow: rapid.Bool().Draw(t, "breslow"), LeftTruncated: rapid.Bool().Draw(t, "late")}
	var rows []CoxRow
	for range rapid.IntRange(5, 25).Draw(t, "rows") {
		entry := rapid.IntRange(-2, 3).Draw(t, "entry")
		rows = append(rows, CoxRow{
			Pattern: rapid.IntRange(0, n-1).Draw(t, "pattern"),
			Entry:   float64(entry), Time: float64(entry + rapid.IntRange(1, 5).Draw(t, "length")),
			Event: rapid.Bool().Draw(t, "event"), Count: float64(rapid.IntRange(0, 3).Draw(t, "count")),
		})
	}
	return p, rows, opt
}

// fitDrawn fits what was drawn; false where the data have no finite fit, or one on
// so flat or narrow a ridge that differences of the likelihood drown in rounding.
func fitDrawn(t *rapid.T, p CoxPatterns, rows []CoxRow, opt CoxOptions) (*CoxFit, bool) {
	f, err := FitCox(p, rows, opt)
	if err != nil {
		require.True(t, errorIsDataFault(err), "%v", err)
		return nil, false
	}
	if len(f.Monotone)+len(f.Aliased) > 0 {
		return nil, false
	}
	cov := f.ModelCovariance().Matrix
	a, b, ab := cov.At(0, 0), cov.At(1, 1), cov.At(0, 1)
	return f, a < 25 && b < 25 && ab*ab < 0.9*a*b
}

func TestCoxAgainstSlowLikelihood(t *testing.T) {
	fitted := 0
	rapid.Check(t, func(t *rapid.T) {
		p, rows, opt := drawCox(t)
		f, ok := fitDrawn(t, p, rows, opt)
		if !ok {
			return
		}
		fitted++
		at := func(da, db float64) float64 {
			return slowCox(p, rows, opt, []float64{f.Coef[0] + da, f.Coef[1] + db})
		}
		top := at(0, 0)
		require.True(t, almost(f.LogLik, top, 1e-9), "%g %g", f.LogLik, top)
		require.True(t, almost(f.NullLogLik, slowCox(p, rows, opt, []float64{0, 0}), 1e-9))
		// Covariance against second differences, in standard errors of each column.
		cov := f.ModelCovariance().Matrix
		sa, sb := math.Sqrt(cov.At(0, 0)), math.Sqrt(cov.At(1, 1))
		ha, hb := 1e-3*sa, 1e-3*sb
		require.InDelta(t, 0, (at(ha, 0)-at(-ha, 0))/2e-3, 1e-4)
		require.InDelta(t, 0, (at(0, hb)-at(0, -hb))/2e-3, 1e-4)
		info := mat.NewSymDense(2, []float64{
			-(at(ha, 0) - 2*top + at(-ha, 0)) / (ha * ha),
			-(at(ha, hb) - at(ha, -hb) - at(-ha, hb) + at(-ha, -hb)) / (4 * ha * hb), 0,
			-(at(0, hb) - 2*top + at(0, -hb)) / (hb * hb)})
		inv, ok := inverseSym(info)
		require.True(t, ok)
		require.InEpsilon(t, cov.At(0, 0), inv.At(0, 0), 1e-2)
		require.InEpsilon(t, cov.At(1, 1), inv.At(1, 1), 1e-2)
	})
	require.Positive(t, fitted)
}

// Splitting rows, shuffling, changing units, and cutting a person's time in two must
// change nothing; the score residuals must sum to nothing at the estimate.
func TestCoxProperties(t *testing.T) {
	fitted := 0
	rapid.Check(t, func(t *rapid.T) {
		p, rows, opt := drawCox(t)
		f, ok := fitDrawn(t, p, rows, opt)
		if !ok {
			return
		}
		fitted++
		q := CoxPatterns{Names: p.Names, Offset: append(append([]float64{}, p.Offset...), p.Offset...), Stratum: append(append([]int{}, p.Stratum...), p.Stratum...)}
		for range 2 {
			for j := range p.Offset {
				q.X = append(q.X, 1000*p.X[2*j]+50, p.X[2*j+1])
			}
		}
		var split []CoxRow
		for _, r := range backwardsOf(rows) {
			one := r
			one.Count, one.Pattern = math.Min(1, r.Count), r.Pattern+len(p.Offset)
			r.Count -= one.Count
			split = append(split, one, r)
		}
		again, err := FitCox(q, split, opt)
		require.NoError(t, err)
		require.True(t, almost(again.LogLik, f.LogLik, 1e-9))
		require.True(t, almost(again.Coef[1], f.Coef[1], 1e-6), "%g %g", again.Coef[1], f.Coef[1])
		require.True(t, almost(1000*again.Coef[0], f.Coef[0], 1e-6))
		cut := cutInTwo(rows, opt)
		late, err := FitCox(p, cut, CoxOptions{Breslow: opt.Breslow, LeftTruncated: true})
		require.NoError(t, err)
		require.True(t, almost(late.LogLik, f.LogLik, 1e-9), "%g %g", late.LogLik, f.LogLik)
		u, res := make([]float64, f.risk.m), f.residuals()
		for i, r := range rows {
			f.addScore(u, res, i, r.Count)
		}
		for _, v := range u {
			require.InDelta(t, 0, v, 1e-7)
		}
	})
	require.Positive(t, fitted)
}

// cutInTwo has everybody leave and come back half-way through their time.
func cutInTwo(rows []CoxRow, opt CoxOptions) []CoxRow {
	var out []CoxRow
	for _, r := range rows {
		if !opt.LeftTruncated {
			r.Entry = -100
		}
		first := r
		first.Time, first.Event = (r.Entry+r.Time)/2, false
		r.Entry = first.Time
		out = append(out, first, r)
	}
	return out
}

// Lin & Wei's residual of one observation as the derivative that it is: the change
// of the score when the observation is counted slightly more, for Breslow's ties,
// where weights may be any number.
func TestCoxScoreResidualsAgainstDefinition(t *testing.T) {
	p := CoxPatterns{Names: []string{"x"}, X: []float64{0, 1, 3}}
	rows := []CoxRow{{0, 0, 2, true, 2}, {1, 0, 2, true, 1}, {1, 0, 3, false, 2}, {2, 0, 4, true, 1}, {0, 0, 5, false, 3}, {2, 0, 1, true, 1}}
	f, err := FitCox(p, rows, CoxOptions{Breslow: true})
	require.NoError(t, err)
	b := f.Coef[0]
	s0 := func(t float64, power float64) float64 {
		sum := 0.0
		for _, r := range rows {
			if r.Time >= t {
				x := p.X[r.Pattern]
				sum += r.Count * math.Exp(b*x) * math.Pow(x, power)
			}
		}
		return sum
	}
	res := f.residuals()
	for i, r := range rows {
		x := p.X[r.Pattern]
		want := 0.0
		if r.Event {
			want = x - s0(r.Time, 1)/s0(r.Time, 0)
		}
		for _, e := range rows {
			if e.Event && e.Time <= r.Time {
				want -= e.Count * math.Exp(b*x) / s0(e.Time, 0) * (x - s0(e.Time, 1)/s0(e.Time, 0))
			}
		}
		u := []float64{0}
		f.addScore(u, res, i, 1)
		// The basis is the centred column over its norm.
		require.True(t, almost(u[0]/f.linear.basis.rinv.At(0, 0), want, 1e-9), "row %d: %g %g", i, u[0], want)
	}
}

// backwardsOf is a copy in reverse order.
func backwardsOf[T any](s []T) []T {
	out := slices.Clone(s)
	slices.Reverse(out)
	return out
}
