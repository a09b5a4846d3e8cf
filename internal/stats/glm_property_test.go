package stats

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// everyFit is the four kinds of fit by name.
var everyFit = map[string]struct {
	family Family
	fit    func(Patterns) (*Fit, error)
}{
	"poisson":  {Poisson, func(d Patterns) (*Fit, error) { return FitGLM(Poisson, d) }},
	"nb":       {NegativeBinomial, func(d Patterns) (*Fit, error) { return FitGLM(NegativeBinomial, d) }},
	"logistic": {Logistic, func(d Patterns) (*Fit, error) { return FitGLM(Logistic, d) }},
	"firth":    {Logistic, func(d Patterns) (*Fit, error) { return FitFirth(d) }},
}

// rewritten is the same data in another row order, with every pattern split in two
// where split asks, and column 1 rescaled.
func rewritten(d Patterns, clusters []Composition, order []int, split []bool, scale float64) (Patterns, []Composition) {
	p := len(d.Names)
	out := Patterns{Names: d.Names}
	places := make([][]int, len(d.Y))
	add := func(i int, w float64) {
		row := append([]float64{}, d.X[i*p:i*p+p]...)
		row[1] *= scale
		places[i] = append(places[i], len(out.Y))
		out.X, out.Y = append(out.X, row...), append(out.Y, d.Y[i])
		out.Offset, out.Weight = append(out.Offset, d.Offset[i]), append(out.Weight, w)
	}
	for _, i := range order {
		if split[i] {
			add(i, d.Weight[i]/2)
			add(i, d.Weight[i]/2)
		} else {
			add(i, d.Weight[i])
		}
	}
	var renamed []Composition
	for _, c := range clusters {
		r := Composition{N: c.N}
		for _, m := range c.Members {
			for _, place := range places[m.Pattern] {
				r.Members = append(r.Members, Member{place, m.Count / float64(len(places[m.Pattern]))})
			}
		}
		renamed = append(renamed, r)
	}
	return out, renamed
}

// Splitting puts half a row's count on each of two equal patterns, so even CR2, which
// counts rows, must not notice.
func TestOrderSplitAndScaleChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := everyFit[rapid.SampledFrom([]string{"poisson", "nb", "logistic", "firth"}).Draw(t, "kind")]
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 5))
		d, clusters := smallClusters(rng, kind.family, 12)
		f, err := kind.fit(d)
		if err != nil || len(f.Separated)+len(f.Aliased) > 0 {
			t.Skip("no finite fit in this draw")
		}
		n := len(d.Y)
		order := rapid.Permutation(counting(n)).Draw(t, "order")
		split := rapid.SliceOfN(rapid.Bool(), n, n).Draw(t, "split")
		scale := math.Exp(rapid.Float64Range(-12, 12).Draw(t, "log scale"))
		e, changed := rewritten(d, clusters, order, split, scale)
		g, err := kind.fit(e)
		require.NoError(t, err)
		require.True(t, almost(g.LogLik+firthShift(f, scale), f.LogLik, 1e-8), "likelihood %g %g", g.LogLik, f.LogLik)
		a, err := f.ClusterCovariance(CR2, clusters)
		require.NoError(t, err)
		b, err := g.ClusterCovariance(CR2, changed)
		require.NoError(t, err)
		for j := range f.Names {
			unit := 1.0
			if j == 1 {
				unit = scale
			}
			x, err := f.Wald(j, a, 0.9)
			require.NoError(t, err)
			y, err := g.Wald(j, b, 0.9)
			require.NoError(t, err)
			require.True(t, almost(y.Estimate*unit, x.Estimate, 1e-6) && relative(y.SE*unit, x.SE, 1e-5) && relative(y.DF, x.DF, 1e-4),
				"%v %v", x, y)
			require.True(t, x.Limits.Low <= x.Estimate && x.Estimate <= x.Limits.High)
		}
	})
}

// firthShift is what rescaling a column takes from Firth's penalty.
func firthShift(f *Fit, scale float64) float64 {
	if f.firth {
		return -math.Log(scale)
	}
	return 0
}

func counting(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// Whatever numbers come in, there is an answer or an error, no panic, and limits that
// hold the estimate.
func TestHostileRowsNeverPanic(t *testing.T) {
	value := rapid.SampledFrom([]float64{0, 1, 1, 2, 3, 50, 2001, 1e6, 1e15, 1e300, -1, 0.5, math.NaN(), math.Inf(1), math.Inf(-1), math.SmallestNonzeroFloat64})
	tame := rapid.SampledFrom([]float64{0, 1, 1, 2, 3})
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 6).Draw(t, "n")
		law := value
		if rapid.Bool().Draw(t, "tame") {
			law = tame
		}
		draw := func(label string, k int) []float64 { return rapid.SliceOfN(law, k, k).Draw(t, label) }
		d := Patterns{Names: []string{"a", "b"}, X: draw("x", 2*n), Y: draw("y", n), Weight: draw("w", n), Offset: draw("o", n)}
		for name, kind := range everyFit {
			f, err := kind.fit(d)
			if err != nil {
				require.True(t, errorsAre(err, ErrBadInput, ErrNoData, ErrNoConvergence), "%s: %v", name, err)
				continue
			}
			requireSaneEffects(t, f)
		}
	})
}

func requireSaneEffects(t *rapid.T, f *Fit) {
	one := []Composition{}
	for i, w := range f.data.Weight {
		if w > 0 {
			one = append(one, Composition{[]Member{{i, w}}, 1})
		}
	}
	covs := []Covariance{f.ModelCovariance(), f.HCCovariance(true)}
	for _, kind := range []ClusterKind{CR1, CR2} {
		cov, err := f.ClusterCovariance(kind, one)
		if err != nil {
			require.True(t, errorsAre(err, ErrNoData, ErrNoConvergence), "%v", err)
			continue
		}
		covs = append(covs, cov)
	}
	for _, cov := range covs {
		for j := range f.Names {
			e, err := f.Wald(j, cov, 0.95)
			require.NoError(t, err)
			withheld := math.IsInf(e.SE, 1) && math.IsInf(e.Limits.Low, -1) && math.IsInf(e.Limits.High, 1) && math.IsNaN(e.P)
			sane := e.Limits.Low <= e.Estimate && e.Estimate <= e.Limits.High && e.P >= 0 && e.P <= 1
			require.True(t, withheld || sane, "%s: %+v", cov.Kind, e)
		}
	}
}

func errorsAre(err error, kinds ...error) bool {
	for _, kind := range kinds {
		if errors.Is(err, kind) {
			return true
		}
	}
	return false
}

func TestSeparatedEffectsAreWithheld(t *testing.T) {
	// Nobody with x above 3 has the event.
	frame := glmFrame{Names: []string{"one", "x", "x'"}}
	knots := []float64{1, 2, 3}
	for i := range 40 {
		basis, err := SplineBasis(float64(i%5), knots)
		require.NoError(t, err)
		frame.X = append(frame.X, []float64{1, basis[0], 0})
		if i%5 > 3 {
			frame.X[i][2] = 1
		}
		frame.Y = append(frame.Y, map[bool]float64{true: 1}[i%5 <= 3 && i%3 == 0])
	}
	f := fitOf(t, Logistic, frame)
	require.Equal(t, []string{"x'"}, f.Separated)
	curve, err := f.SplineCurve([]int{1, 2}, knots, []float64{1, 4}, 1, f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	require.True(t, math.IsNaN(curve[1].P) && math.IsInf(curve[1].Limits.High, 1) && curve[0].P == 1)
	s, err := f.Standardise(setColumn(f.data, 2, 1), setColumn(f.data, 2, 0), f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	for _, e := range []Effect{s.Exposed, s.Difference, s.Ratio} {
		require.True(t, math.IsNaN(e.P) && math.IsInf(e.SE, 1) && math.IsInf(e.Limits.High, 1), "%+v", e)
	}
	_, err = f.WaldJoint([]int{1, 2}, f.ModelCovariance())
	require.ErrorIs(t, err, ErrBadInput)
	_, err = f.ScoreTest([]string{"z"}, orConstant(nil, len(f.data.Y), 1))
	require.ErrorIs(t, err, ErrBadInput)
}

// The other columns of a separated fit are those of a fit without the rows that the
// separated column alone decides.
func TestSeparationLeavesTheOthersRight(t *testing.T) {
	all, clusters := collapse(loadRobust(t).Firth)
	f, err := FitGLM(Logistic, all)
	require.NoError(t, err)
	require.Equal(t, []string{"NV"}, f.Separated)
	rest := Patterns{Names: all.Names}
	place := map[int]int{}
	for i := range all.Y {
		if all.X[4*i+1] == 0 {
			place[i] = len(rest.Y)
			rest.X, rest.Y, rest.Weight = append(rest.X, all.X[4*i:4*i+4]...), append(rest.Y, all.Y[i]), append(rest.Weight, all.Weight[i])
		}
	}
	var left []Composition
	for _, c := range clusters {
		part := Composition{N: c.N}
		for _, m := range c.Members {
			if k, ok := place[m.Pattern]; ok {
				part.Members = append(part.Members, Member{k, m.Count})
			}
		}
		if len(part.Members) > 0 {
			left = append(left, part)
		}
	}
	g, err := FitGLM(Logistic, rest)
	require.NoError(t, err)
	require.Equal(t, []string{"NV"}, g.Aliased)
	for _, kind := range []ClusterKind{CR0, CR2} {
		a, err := f.ClusterCovariance(kind, clusters)
		require.NoError(t, err)
		b, err := g.ClusterCovariance(kind, left)
		require.NoError(t, err)
		for _, pair := range [][2]Covariance{{f.ModelCovariance(), g.ModelCovariance()}, {a, b}} {
			for _, j := range []int{0, 2, 3} {
				x, err := f.Wald(j, pair[0], 0.95)
				require.NoError(t, err)
				y, err := g.Wald(j, pair[1], 0.95)
				require.NoError(t, err)
				requireVector(t, []float64{y.Estimate, y.SE}, []float64{x.Estimate, x.SE}, 1e-6, f.Names[j])
				if kind == CR2 { // CR0 counts clusters, CR2 what they tell
					requireVector(t, []float64{y.DF}, []float64{x.DF}, 1e-6, f.Names[j])
				}
			}
		}
	}
}

// A pattern whose information has nearly or wholly underflowed is left to itself.
func TestCR2WithoutInformation(t *testing.T) {
	d := Patterns{Names: []string{"one", "x"}, X: []float64{1, 0, 1, 1, 1, 0, 1, 1, 1, 0}, Y: []float64{3, 1, 5, 2, 1}, Weight: []float64{1, 2, 1, 1, 1}}
	clusters := []Composition{{[]Member{{0, 1}, {1, 1}, {4, 1}}, 1}, {[]Member{{1, 1}, {2, 1}}, 1}, {[]Member{{3, 1}}, 1}}
	at := func(offset float64) (Covariance, Effect) {
		d.Offset = []float64{0, 0, 0, 0, offset}
		f, err := FitGLM(Poisson, d)
		require.NoError(t, err)
		cov, err := f.ClusterCovariance(CR2, clusters)
		require.NoError(t, err)
		e, err := f.Wald(1, cov, 0.95)
		require.NoError(t, err)
		return cov, e
	}
	want, effect := at(-12)
	for _, offset := range []float64{-16, -300, -700, -800} {
		got, e := at(offset)
		requireMatrix(t, matrixRows(mat.DenseCopyOf(want.Matrix)), got.Matrix, 1e-4, "CR2")
		require.InDelta(t, effect.DF, e.DF, 1e-4)
	}
}

func TestHostileClusters(t *testing.T) {
	d := Patterns{Names: []string{"one"}, X: []float64{1, 1}, Y: []float64{1, 3}}
	f, err := FitGLM(Poisson, d)
	require.NoError(t, err)
	good := Composition{[]Member{{0, 1}}, 1}
	for _, bad := range []Composition{{nil, 1}, {[]Member{{1, 1}}, math.NaN()}, {[]Member{{1, 1}}, math.Inf(1)}, {[]Member{{1, 1}}, 0}, {[]Member{{2, 1}}, 1}, {[]Member{{-1, 1}}, 1}, {[]Member{{1, math.NaN()}}, 1}, {[]Member{{1, 2}}, 1}} {
		for _, kind := range []ClusterKind{CR0, CR2} {
			_, err := f.ClusterCovariance(kind, []Composition{good, bad})
			require.ErrorIs(t, err, ErrBadInput, "%+v", bad)
		}
	}
	_, err = f.ClusterCovariance(CR2, []Composition{good, {[]Member{{1, 1}}, 1}, {nil, 1}})
	require.ErrorIs(t, err, ErrBadInput)
	_, err = f.ClusterCovariance(CR2, []Composition{{[]Member{{0, 1}, {1, 1}}, 1}})
	require.ErrorIs(t, err, ErrNoData)
	_, err = f.ClusterCovariance(ClusterKind(7), []Composition{good})
	require.ErrorIs(t, err, ErrBadInput)
	cov, err := f.ClusterCovariance(CR2, []Composition{good, {[]Member{{1, 1}}, 1}})
	require.NoError(t, err)
	_, err = f.WaldJoint([]int{0, 3}, cov)
	require.ErrorIs(t, err, ErrBadInput)
	for _, fit := range []Family{Family(-1), Family(3)} {
		_, err := FitGLM(fit, d)
		require.ErrorIs(t, err, ErrBadInput)
	}
}

// The scores of three clusters add up to zero: they cannot test three columns.
func TestTooFewClustersForAJointTest(t *testing.T) {
	d, clusters := smallClusters(rand.New(rand.NewPCG(3, 8)), Poisson, 30)
	f, err := FitGLM(Poisson, d)
	require.NoError(t, err)
	three := make([]Composition, 3)
	for g, c := range clusters {
		k := &three[g%3]
		k.N = 1
		for _, m := range c.Members {
			k.Members = append(k.Members, Member{m.Pattern, m.Count * c.N})
		}
	}
	for _, kind := range []ClusterKind{CR0, CR1} {
		cov, err := f.ClusterCovariance(kind, three)
		require.NoError(t, err)
		_, err = f.WaldJoint([]int{0, 1, 2}, cov)
		require.ErrorIs(t, err, ErrBadInput)
	}
}

// Half of these designs or more have a group without events, or several.
func TestSeparationIsNeverAnError(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	separated := 0
	for range 1500 {
		frame := glmFrame{Names: []string{"one", "a", "b", "c", "d"}}
		unit := math.Exp(8 * rng.NormFloat64())
		for range 10 + rng.IntN(30) {
			x := []float64{1, float64(rng.IntN(2)), float64(rng.IntN(3) / 2), unit * rng.NormFloat64(), float64(rng.IntN(4) / 3)}
			y := math.Floor(rng.ExpFloat64()) * (1 - x[1]*x[2]) * (1 - x[4])
			frame.X, frame.Y = append(frame.X, x), append(frame.Y, math.Min(1, y))
		}
		d, _ := collapse(frame)
		for _, family := range []Family{Poisson, NegativeBinomial, Logistic} {
			f, err := FitGLM(family, d)
			require.NoError(t, err, "family %d", family)
			if len(f.Separated) > 0 {
				separated++
			}
		}
	}
	require.Greater(t, separated, 1500)
}

// Two outcomes and two columns: residuals are rounding, and no robust covariance may
// make a certainty of them.
func TestModelMetExactlyIsWithheld(t *testing.T) {
	d := Patterns{Names: []string{"one", "x"}, X: []float64{1, 3, 2, 1}, Y: []float64{1, 2}, Weight: []float64{1, 2}}
	f, err := FitGLM(Poisson, d)
	require.NoError(t, err)
	cr2, err := f.ClusterCovariance(CR2, []Composition{{[]Member{{0, 1}}, 1}, {[]Member{{1, 2}}, 1}})
	require.NoError(t, err)
	for _, cov := range []Covariance{cr2, f.HCCovariance(false)} {
		e, err := f.Wald(0, cov, 0.95)
		require.NoError(t, err)
		require.True(t, math.IsNaN(e.P) && math.IsInf(e.SE, 1), "%+v", e)
	}
}

func TestAliasCanBeAnError(t *testing.T) {
	d := Patterns{Names: []string{"one", "a", "b"}, X: []float64{1, 0, 1, 1, 1, 0, 1, 0, 1, 1, 1, 0}, Y: []float64{1, 0, 0, 1}}
	for _, fit := range []func() (*Fit, error){
		func() (*Fit, error) { return FitGLM(Poisson, d, AliasIsError) },
		func() (*Fit, error) { return FitFirth(d, AliasIsError) },
	} {
		_, err := fit()
		require.ErrorIs(t, err, ErrAliased)
		require.ErrorContains(t, err, "b")
	}
	f, err := FitGLM(Poisson, d)
	require.NoError(t, err)
	// b = one - a holds in the data and in this design, not in the next.
	_, err = f.Standardise(d.X, d.X, f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	_, err = f.Standardise(setColumn(d, 2, 1), d.X, f.ModelCovariance(), 0.95)
	require.ErrorIs(t, err, ErrBadInput)
	require.ErrorContains(t, err, "column b")
}

// Whole clusters are drawn again with a fixed seed; the spread of the difference and
// of the logarithm of the ratio must be the delta method's within 10 %.
func TestBootstrapAgreesWithDeltaLimits(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	for _, name := range []string{"poisson", "nb", "logistic"} {
		kind := everyFit[name]
		d, clusters := smallClusters(rng, kind.family, 120)
		standard := func(w []float64, clusters []Composition) Standardised {
			again := d
			again.Weight = w
			f, err := kind.fit(again)
			require.NoError(t, err)
			cov, err := f.ClusterCovariance(CR1, clusters)
			require.NoError(t, err)
			s, err := f.Standardise(setColumn(d, 1, 1), setColumn(d, 1, 0), cov, 0.95)
			require.NoError(t, err)
			return s
		}
		once := standard(d.Weight, clusters)
		const runs = 600
		var sum, squares [2]float64
		for range runs {
			w, drawn := redraw(rng, len(d.Y), clusters)
			s := standard(w, drawn)
			for k, v := range []float64{s.Difference.Estimate, math.Log(s.Ratio.Estimate)} {
				sum[k] += v / runs
				squares[k] += v * v / runs
			}
		}
		for k, se := range []float64{once.Difference.SE, once.Ratio.SE} {
			spread := math.Sqrt(squares[k] - sum[k]*sum[k])
			require.InDelta(t, 1, spread/se, 0.1, "%s %d: spread %g, delta %g", name, k, spread, se)
		}
	}
}

// redraw draws as many clusters as there are, with replacement.
func redraw(rng *rand.Rand, patterns int, clusters []Composition) ([]float64, []Composition) {
	var each []int
	for k, c := range clusters {
		for range int(c.N) {
			each = append(each, k)
		}
	}
	w, n := make([]float64, patterns), make([]float64, len(clusters))
	for range each {
		k := each[rng.IntN(len(each))]
		n[k]++
		for _, m := range clusters[k].Members {
			w[m.Pattern] += m.Count
		}
	}
	var out []Composition
	for k, c := range clusters {
		if n[k] > 0 {
			out = append(out, Composition{c.Members, n[k]})
		}
	}
	return w, out
}
