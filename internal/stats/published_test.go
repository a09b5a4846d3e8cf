package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// publishedReference is what published.R prints: examples whose results stand in books
// and papers, run a second time in R.
type publishedReference struct {
	Remission struct {
		Time, Event, Cells, Placebo       []float64
		Breslow, Efron, Adjusted, Crossed struct{ Coef, SE, LogLik []float64 }
		Rank, Within, Mean                float64
		Hazard                            []float64
	}
	Larynx struct {
		Time, Event []float64
		Stage       []int
		Rank, Trend float64
	}
	Bladder struct {
		X                           [][]float64
		Entry, Time, Event, Cluster []float64
		Coef, Model, Robust         []float64
	}
	Doctors struct {
		Smoker, Deaths, Years []float64
		Age                   []int
		Coef, SE              []float64
		LogLik                float64
	}
	Rings struct {
		X, Y, Coef, SE []float64
		Deviance       float64
	}
	Saxony struct {
		Families     []float64
		A, B, LogLik float64
	}
	Normal struct {
		H, Shift []float64
		ARL      [][]float64
	}
	Scattered   []struct{ Mean, Phi, K, H, ARL float64 }
	Spatial     []float64
	Digits      struct{ ChiSq, P float64 }
	Calibration struct{ Slope, Variance float64 }
}

func loadPublished(t *testing.T) (ref publishedReference) {
	t.Helper()
	loadReference(t, "published", &ref)
	return ref
}

// requirePrinted compares with digits as printed.
func requirePrinted(t *testing.T, want, got []float64, half float64, about string) {
	t.Helper()
	require.Len(t, got, len(want), about)
	for i, v := range want {
		require.InDelta(t, v, got[i], half*(1+1e-6), "%s, number %d", about, i)
	}
}

func modelSEs(names []string, cov Covariance) (se []float64) {
	for j := range names {
		se = append(se, math.Sqrt(cov.Matrix.At(j, j)))
	}
	return se
}

// Freireich's 42 remission times by drug and log white cells, as Kleinbaum & Klein work
// them in Survival Analysis (three models, Breslow's ties); 1.572 with Efron's ties.
// The printed digits are from memory.
func TestCoxOfPublishedRemissionTimes(t *testing.T) {
	ref := loadPublished(t).Remission
	fit := func(columns int, opt CoxOptions) (*CoxFit, []float64, []float64) {
		names := []string{"placebo", "cells", "both"}[:columns]
		p := CoxPatterns{Names: names}
		var rows []CoxRow
		for i, drug := range ref.Placebo {
			p.X = append(p.X, []float64{drug, ref.Cells[i], drug * ref.Cells[i]}[:columns]...)
			rows = append(rows, CoxRow{Pattern: i, Time: ref.Time[i], Event: ref.Event[i] == 1, Count: 1})
		}
		f, err := FitCox(p, rows, opt)
		require.NoError(t, err)
		return f, f.Coef, modelSEs(names, f.ModelCovariance())
	}
	for _, c := range []struct {
		opt                  CoxOptions
		want                 struct{ Coef, SE, LogLik []float64 }
		coef, se             []float64
		minusTwice, printout float64
	}{
		{CoxOptions{Breslow: true}, ref.Breslow, []float64{1.509}, []float64{.410}, 172.759, 5e-4},
		{CoxOptions{}, ref.Efron, []float64{1.572}, []float64{.412}, 170.017, 5e-4},
		{CoxOptions{Breslow: true}, ref.Adjusted, []float64{1.294, 1.604}, []float64{.422, .329}, 144.559, 5e-4},
		{CoxOptions{Breslow: true}, ref.Crossed, []float64{2.355, 1.803, -.342}, []float64{1.681, .447, .520}, 144.131, 5e-4},
	} {
		f, coef, se := fit(len(c.coef), c.opt)
		requirePrinted(t, c.coef, coef, c.printout, "printed coefficients")
		requirePrinted(t, c.se, se, c.printout, "printed standard errors")
		require.InDelta(t, c.minusTwice, -2*f.LogLik, 6e-4)
		requireVector(t, c.want.Coef, coef, 1e-6, "R's coefficients")
		requireVector(t, c.want.SE, se, 1e-6, "R's standard errors")
		requireVector(t, c.want.LogLik, []float64{f.NullLogLik, f.LogLik}, 1e-10, "R's likelihood")
	}
}

// The same data: Nelson-Aalen and mean of the treated (Klein & Moeschberger 2003,
// examples 4.1 and 4.2: .1429 to .7521, 23.29 weeks), log-rank 16.79 and, within three
// ranges of white cells, 10.14 (Kleinbaum & Klein). Printed digits are from memory.
func TestLogRankOfPublishedRemissionTimes(t *testing.T) {
	ref := loadPublished(t).Remission
	groups, within := make([][]TimeCount, 2), make([][][]TimeCount, 3)
	for s := range within {
		within[s] = make([][]TimeCount, 2)
	}
	for i, at := range ref.Time {
		s, g := 0, int(ref.Placebo[i])
		if c := ref.Cells[i]; c > 3 {
			s = 2
		} else if c > 2.3 {
			s = 1
		}
		row := TimeCount{at, int64(ref.Event[i]), int64(1 - ref.Event[i])}
		groups[g], within[s][g] = append(groups[g], row), append(within[s][g], row)
	}
	rank, err := LogRank([][][]TimeCount{groups})
	require.NoError(t, err)
	strata, err := LogRank(within)
	require.NoError(t, err)
	requirePrinted(t, []float64{16.793, 10.144}, []float64{rank.ChiSquare, strata.ChiSquare}, 5e-4, "log-rank")
	requireVector(t, []float64{ref.Rank, ref.Within}, []float64{rank.ChiSquare, strata.ChiSquare}, 1e-8, "survdiff")
	curve, err := KaplanMeier(groups[0])
	require.NoError(t, err)
	var hazard []float64
	for _, at := range []float64{6, 7, 10, 13, 16, 22, 23} {
		p, _ := curve.At(at)
		hazard = append(hazard, p.Hazard)
	}
	requirePrinted(t, []float64{.1429, .2017, .2683, .3517, .4426, .5854, .7521}, hazard, 5.5e-5, "Nelson-Aalen")
	requireVector(t, ref.Hazard, hazard, 1e-10, "survfit")
	mean, _, err := curve.RestrictedMean(35)
	require.NoError(t, err)
	require.InDelta(t, 23.29, mean, 0.005)
	require.True(t, relative(mean, ref.Mean, 1e-10), "%g", mean)
}

// 90 men with cancer of the larynx in four stages: Klein & Moeschberger 2003, section
// 7.3 print 22.76 for any difference, section 7.4 Z = 3.72 for a trend. From memory.
func TestTrendOfPublishedLarynxStages(t *testing.T) {
	ref := loadPublished(t).Larynx
	groups := make([][]TimeCount, 4)
	for i, at := range ref.Time {
		g := ref.Stage[i] - 1
		groups[g] = append(groups[g], TimeCount{at, int64(ref.Event[i]), int64(1 - ref.Event[i])})
	}
	rank, err := LogRank([][][]TimeCount{groups})
	require.NoError(t, err)
	trend, err := LogRankTrend([][][]TimeCount{groups}, []float64{1, 2, 3, 4})
	require.NoError(t, err)
	require.InDelta(t, 22.76, rank.ChiSquare, 0.005)
	require.InDelta(t, 3.72, math.Sqrt(trend.ChiSquare), 0.005)
	requireVector(t, []float64{ref.Rank, ref.Trend}, []float64{rank.ChiSquare, trend.ChiSquare}, 1e-8, "survdiff")
}

// Recurrences of bladder tumours with late entry and patients as clusters, the model
// that Therneau & Grambsch 2000 print in section 8.5 (after Wei, Lin & Weissfeld 1989):
// model and robust standard errors, from memory.
func TestCoxOfPublishedBladderTumours(t *testing.T) {
	ref := loadPublished(t).Bladder
	p := CoxPatterns{Names: []string{"rx", "size", "number"}}
	var rows []CoxRow
	of := map[float64]*Composition{}
	for i, x := range ref.X {
		p.X = append(p.X, x...)
		rows = append(rows, CoxRow{i, ref.Entry[i], ref.Time[i], ref.Event[i] == 1, 1})
		if of[ref.Cluster[i]] == nil {
			of[ref.Cluster[i]] = &Composition{N: 1}
		}
		c := of[ref.Cluster[i]]
		c.Members = append(c.Members, Member{i, 1})
	}
	var clusters []Composition
	for _, c := range of {
		clusters = append(clusters, *c)
	}
	f, err := FitCox(p, rows, CoxOptions{LeftTruncated: true})
	require.NoError(t, err)
	cov, err := f.ClusterCovariance(CR0, clusters)
	require.NoError(t, err)
	model, robust := modelSEs(p.Names, f.ModelCovariance()), modelSEs(p.Names, cov)
	requirePrinted(t, []float64{-.4647, -.0437, .1750}, f.Coef, 5e-5, "coef")
	requirePrinted(t, []float64{.1997, .0691, .0471}, model, 5e-5, "model")
	requirePrinted(t, []float64{.2656, .0776, .0630}, robust, 5e-5, "robust")
	requireVector(t, ref.Coef, f.Coef, 1e-6, "R's coef")
	requireVector(t, ref.Model, model, 1e-6, "R's model")
	requireVector(t, ref.Robust, robust, 1e-6, "R's robust")
}

// Coronary deaths of British doctors (Doll & Hill 1966), the example of many books and
// manuals: rate ratio of smokers 1.4255 (1.1550 to 1.7594), log-likelihood -33.60, from
// memory. The same ratio comes from strata without a model.
func TestPoissonOfPublishedDoctors(t *testing.T) {
	ref := loadPublished(t).Doctors
	d := Patterns{Names: []string{"one", "smoker", "45", "55", "65", "75"}, Y: ref.Deaths}
	strata := make([]Stratum, 5)
	for i, age := range ref.Age {
		x := []float64{1, ref.Smoker[i], 0, 0, 0, 0}
		if age > 1 {
			x[age] = 1
		}
		d.X, d.Offset = append(d.X, x...), append(d.Offset, math.Log(ref.Years[i]))
		side := int(ref.Smoker[i])
		strata[age-1].Events[side], strata[age-1].Size[side] = ref.Deaths[i], ref.Years[i]
	}
	f, err := FitGLM(Poisson, d)
	require.NoError(t, err)
	e, err := f.Wald(1, f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	got := []float64{math.Exp(e.Estimate), math.Exp(e.Limits.Low), math.Exp(e.Limits.High)}
	requirePrinted(t, []float64{1.425519, 1.154984, 1.759421}, got, 5e-7, "ratio")
	require.InDelta(t, -33.600153, f.LogLik, 5e-7)
	requireVector(t, ref.Coef, f.Coef, 1e-8, "glm")
	requireVector(t, ref.SE, modelSEs(d.Names, f.ModelCovariance()), 1e-6, "glm's standard errors")
	require.True(t, almost(f.LogLik, ref.LogLik, 1e-9))
	s, err := StratifyRatio(strata)
	require.NoError(t, err)
	require.True(t, almost(s.LogRatio, f.Coef[1], 1e-10), "%g", s.LogRatio)
	var cells []StratumCell
	for i, age := range ref.Age {
		cells = append(cells, StratumCell{age - 1, int(ref.Smoker[i]), ref.Deaths[i], ref.Years[i]})
	}
	within, err := StratifyPoisson([]float64{0, 1}, 1, cells, 5)
	require.NoError(t, err)
	requirePrinted(t, []float64{1.425519}, []float64{math.Exp(within.Coef[0])}, 5e-7, "within age")
	require.True(t, almost(math.Sqrt(within.Inverse.At(0, 0)), ref.SE[1], 1e-6))
}

// O-rings of 23 flights by temperature (Dalal, Fowlkes & Hoadley 1989): 15.0429 and
// -0.2322 with standard errors 7.3786 and 0.1082, as textbooks print them; from memory.
func TestLogisticOfPublishedRings(t *testing.T) {
	ref := loadPublished(t).Rings
	d := Patterns{Names: []string{"one", "temperature"}, Y: ref.Y}
	for _, x := range ref.X {
		d.X = append(d.X, 1, x)
	}
	f, err := FitGLM(Logistic, d)
	require.NoError(t, err)
	se := modelSEs(d.Names, f.ModelCovariance())
	requirePrinted(t, []float64{15.0429, -.2322, 7.3786, .1082}, append(append([]float64{}, f.Coef...), se...), 5e-5, "rings")
	requireVector(t, ref.Coef, f.Coef, 1e-6, "glm")
	requireVector(t, ref.SE, se, 1e-6, "glm's standard errors")
	require.True(t, almost(-2*f.LogLik, ref.Deviance, 1e-9))
}

// Days absent from school (quine), as Venables & Ripley 2002 print the negative binomial
// fit (section 7.4), and the endometrial data of Heinze & Schemper 2002, table I: Firth's
// estimates with profile limits. Both from memory; R's own run is in glm_fit.R.
func TestPublishedNegativeBinomialAndFirth(t *testing.T) {
	ref := loadGLM(t)
	f, _ := requireFit(t, NegativeBinomial, ref.Quine, "quine")
	printed := map[string][2]float64{"(Intercept)": {2.89458, .22842}, "SexM": {.08232, .15992}, "AgeF1": {-.44843, .23975}, "AgeF2": {.08808, .23619},
		"AgeF3": {.35690, .24832}, "EthN": {-.56937, .15333}, "LrnSL": {.29211, .18647}}
	se := modelSEs(f.Names, f.ModelCovariance())
	require.Len(t, f.Names, len(printed))
	for j, name := range f.Names {
		want, known := printed[name]
		require.True(t, known, name)
		requirePrinted(t, want[:], []float64{f.Coef[j], se[j]}, 5e-6, name)
	}
	requirePrinted(t, []float64{1.275, .161}, []float64{f.Theta, f.ThetaSE}, 5e-4, "theta")
	require.InDelta(t, -1093.151, 2*f.LogLik, 5e-4)

	d, _ := collapse(ref.Firth)
	g, err := FitFirth(d)
	require.NoError(t, err)
	require.Equal(t, []string{"NV", "PI", "EH"}, g.Names[1:])
	for j, want := range [][3]float64{{3.775, 1.082, 7.209}, {2.929, .610, 7.855}, {-.035, -.124, .040}, {-2.604, -4.365, -1.233}} {
		limits, err := g.ProfileLimits(j, 0.95)
		require.NoError(t, err)
		requirePrinted(t, want[:], []float64{g.Coef[j], limits.Low, limits.High}, 1e-3, g.Names[j])
	}
}

// Two treatments of kidney stones (Charig 1986): Pearl, Glymour & Jewell 2016, section
// 3.2, standardise 0.832 against 0.7818 from shares rounded to two digits; exactly it is
// the arithmetic below. A model with every cell must give it, and events avoided.
func TestStandardisingPublishedKidneyStones(t *testing.T) {
	d := Patterns{Names: []string{"one", "open", "large", "both"}}
	cell := func(open, large, well, all float64) {
		for _, y := range []float64{1, 0} {
			d.X, d.Y = append(d.X, 1, open, large, open*large), append(d.Y, y)
			d.Weight = append(d.Weight, y*well+(1-y)*(all-well))
		}
	}
	cell(1, 0, 81, 87)
	cell(0, 0, 234, 270)
	cell(1, 1, 192, 263)
	cell(0, 1, 55, 80)
	f, err := FitGLM(Logistic, d)
	require.NoError(t, err)
	set := func(v float64) []float64 {
		x := setColumn(d, 1, v)
		for i := range d.Y {
			x[4*i+3] = v * x[4*i+2]
		}
		return x
	}
	s, err := f.Standardise(set(1), set(0), f.ModelCovariance(), 0.95)
	require.NoError(t, err)
	open, closed := (357*81.0/87+343*192.0/263)/700, (357*234.0/270+343*55.0/80)/700
	requireVector(t, []float64{open, closed, open - closed, open / closed, 700 * (open - closed)},
		[]float64{s.Exposed.Estimate, s.Reference.Estimate, s.Difference.Estimate, s.Ratio.Estimate, s.Avoided}, 1e-9, "exact")
	requirePrinted(t, []float64{.832, .7818}, []float64{s.Exposed.Estimate, s.Reference.Estimate}, 4e-3, "printed")
	variance := func(k, n float64) float64 { return k / n * (1 - k/n) / n }
	share := [2]float64{357.0 / 700, 343.0 / 700}
	want := share[0]*share[0]*(variance(81, 87)+variance(234, 270)) + share[1]*share[1]*(variance(192, 263)+variance(55, 80))
	require.True(t, relative(s.Difference.SE, math.Sqrt(want), 1e-8), "%g", s.Difference.SE)
}

// Boys among the first twelve children of 6115 families in Saxony (Geissler 1889): the
// beta-binomial fit with a = 34.096, b = 31.571 and log-likelihood -12492.9 is printed
// in Lindsey & Altham 1998 and after them; from memory.
func TestShrinkingPublishedSaxonFamilies(t *testing.T) {
	ref := loadPublished(t).Saxony
	var units []UnitShare
	for boys, n := range ref.Families {
		for range int(n) {
			units = append(units, UnitShare{float64(boys), 12})
		}
	}
	require.Len(t, units, 6115)
	s, err := ShrinkShares(units, ShrinkOptions{Level: 0.95})
	require.NoError(t, err)
	a, b := s.Mean/s.Dispersion, (1-s.Mean)/s.Dispersion
	requirePrinted(t, []float64{34.096, 31.571}, []float64{a, b}, 1e-2, "printed")
	require.True(t, relative(s.Mean, ref.A/(ref.A+ref.B), 1e-7) && relative(s.Dispersion, 1/(ref.A+ref.B), 1e-6), "%g %g", a, b)
}

// Page's normal CUSUM with reference value 1/2, one-sided: 335.4 and 930.9 steps at
// limits 4 and 5, and 8.38 and 10.4 after a shift of 1, are in every textbook (after
// Lucas 1976; from memory). A normal law in small slices stands for it.
func TestRunLengthOfPublishedNormalCusum(t *testing.T) {
	ref := loadPublished(t).Normal
	printed := [][]float64{{335.4, 26.6, 8.38}, {930.9, 38.0, 10.4}}
	for i, h := range ref.H {
		for j, shift := range ref.Shift {
			var law ScoreLaw
			slice := h / chainCells
			for k := -int(8/slice) - chainCells; k < int(9/slice)+chainCells; k++ {
				s := float64(k) * slice
				_, above := NormalTails(s + 0.5 - shift - slice/2)
				_, beyond := NormalTails(s + 0.5 - shift + slice/2)
				law.score, law.prob = append(law.score, s), append(law.prob, above-beyond)
			}
			got, err := RunLength(law, h)
			require.NoError(t, err)
			require.True(t, relative(got, ref.ARL[i][j], 0.02), "limit %g, shift %g: %g, spc has %g", h, shift, got, ref.ARL[i][j])
			require.True(t, relative(got, printed[i][j], 0.02), "%g", got)
		}
	}
}

// Lucas 1985, Technometrics 27:129: counts with mean 1.88, reference value 2 and limit 6
// run 37.2 steps in control and 5.49 at mean 3.2, as the manual of R's IAcsSPCR prints.
func TestRunLengthOfPublishedCountCusum(t *testing.T) {
	for mean, want := range map[float64]float64{1.88: 37.2, 1.88 + 0.9627*math.Sqrt(1.88): 5.49} {
		expected := 2 * math.Ln2
		law, err := PoissonScoreLaw([]CaseMix{{expected, 1}}, 2, mean/expected)
		require.NoError(t, err)
		got, err := RunLength(law, 6*math.Ln2)
		require.NoError(t, err)
		require.True(t, relative(got, want, 1.5e-3), "mean %g: %g, printed %g", mean, got, want)
	}
}

// A risk-adjusted CUSUM on Steiner's model of heart surgery, logit = -3.68 + 0.0768
// score, with scores of 0 to 71 as a beta(1, 3) law has them (Wittenberg 2022, Stat
// Methods Med Res 31:779): R's vlad holds 4474.738 steps at limit 4.5 for doubled odds
// and 5658.854 for halved ones, with a chain as coarse as ours.
func TestRunLengthOfPublishedRiskAdjustedCusum(t *testing.T) {
	const parts = 400
	var mix []CaseMix
	for i := range parts {
		score, err := BetaQuantile((float64(i)+0.5)/parts, 1, 3, false)
		require.NoError(t, err)
		mix = append(mix, CaseMix{1 / (1 + math.Exp(3.6798-0.0768*71*score)), 1})
	}
	for ratio, want := range map[float64]float64{2: 4474.738, 0.5: 5658.854} {
		law, err := BernoulliScoreLaw(mix, ratio, 1)
		require.NoError(t, err)
		got, err := RunLength(law, 4.5)
		require.NoError(t, err)
		require.True(t, relative(got, want, 0.01), "ratio %g: %g, published %g", ratio, got, want)
		limit, achieved, err := CusumLimit(law, want)
		require.NoError(t, err)
		require.True(t, relative(limit, 4.5, 0.005) && achieved >= want, "limit %g runs %g", limit, achieved)
	}
}

// Reference: published.R solves the chain of negative binomial counts on its lattice.
func TestScatteredRunLengthAgainstR(t *testing.T) {
	ref := loadPublished(t).Scattered
	require.Len(t, ref, 16)
	for _, c := range ref {
		expected := c.K * math.Ln2
		law, err := ScatteredScoreLaw([]CaseMix{{expected, 1}}, 2, c.Mean/expected, c.Phi)
		require.NoError(t, err)
		got, err := RunLength(law, c.H*math.Ln2/c.Phi)
		require.NoError(t, err)
		require.True(t, relative(got, c.ARL, 1e-7), "%+v: %g", c, got)
	}
}

// Scores of 26 children on a spatial test: Efron & Tibshirani 1993, chapter 14, print
// 171.5 for the variance, 90 % limits 100.8 to 233.9 by percentiles and 115.8 to 259.6 by
// BCa from 2000 replicates, which differ from seed to seed by some 3. From memory.
func TestBootstrapOfPublishedSpatialTest(t *testing.T) {
	x := loadPublished(t).Spatial
	b, err := Bootstrap(len(x), func(w []float64) (float64, error) {
		n, sum, squares := 0.0, 0.0, 0.0
		for i, v := range x {
			n, sum, squares = n+w[i], sum+w[i]*v, squares+w[i]*v*v
		}
		return squares/n - sum*sum/(n*n), nil
	}, BootstrapOptions{Replicates: 20000, Seed: 14, Level: 0.9})
	require.NoError(t, err)
	require.InDelta(t, 171.5, b.Estimate, 0.05)
	requirePrinted(t, []float64{100.8, 233.9, 115.8, 259.6}, []float64{b.Percentile.Low, b.Percentile.High, b.BCa.Low, b.BCa.High}, 4, "limits")
}

// Women examined by fluoroscopy (Boice & Monson 1977): 41 breast cancers in 28,010
// person-years against 15 in 19,017, rate ratio 1.86 with exact limits 1.006 and 3.609 in
// manuals that take it from Rothman; from memory.
func TestRateRatioOfPublishedFluoroscopy(t *testing.T) {
	got, err := RateRatioExact(41, 28010, 15, 19017, 0.95)
	require.NoError(t, err)
	requirePrinted(t, []float64{1.006, 3.609}, []float64{got.Low, got.High}, 5e-4, "limits")
}

// Published references for knots and sizes: Harrell's table 2.3 puts four knots at 5,
// 35, 65 and 95 %; R's manual of power.prop.test prints 76.7 a group for shares of .50
// and .75 with power .90. The basis beyond the last knot is worked by hand from Harrell's
// formula: with knots 1, 2, 3 at 4 it is (27 - 2*8 + 1)/4.
func TestPublishedKnotsAndSizes(t *testing.T) {
	knots, err := SplineKnots([]float64{0, 100}, []float64{1, 1}, SplineProbabilities)
	require.NoError(t, err)
	requireVector(t, []float64{5, 35, 65, 95}, knots, 1e-12, "knots")
	basis, err := SplineBasis(4, []float64{1, 2, 3})
	require.NoError(t, err)
	requireVector(t, []float64{4, 3}, basis, 1e-12, "basis")
	size, err := SizeTwoProportions(0.5, 0.75, PowerDesign{Alpha: 0.05, Power: 0.9, Allocation: 1, Inflation: 1})
	require.NoError(t, err)
	require.InDelta(t, 76.7, size.Exact, 0.05)
}

// Reference: R's chisq.test, and the delta method by numerical derivatives.
func TestDigitsAndCalibrationAgainstR(t *testing.T) {
	ref := loadPublished(t)
	d, err := DigitPreferenceOf([][]ReadingCount{{{0, 31}, {10, 9}, {20, 12}, {30, 10}, {40, 8}}}, wholeMillimetres, DefaultBootstrap)
	require.NoError(t, err)
	requireVector(t, []float64{ref.Digits.ChiSq, ref.Digits.P}, []float64{d.ChiSquare, d.P}, 1e-8, "chisq.test")
	c, err := CalibrateSlope(-0.4, 0.01, Reliability{Value: 0.62, SE: 0.05}, 0.95)
	require.NoError(t, err)
	requireVector(t, []float64{ref.Calibration.Slope, math.Sqrt(ref.Calibration.Variance)}, []float64{c.Slope, c.SE}, 1e-8, "delta method")
}

// The tables at the back of every textbook: upper 5 % points of chi-square, two-sided 5 %
// points of Student's law, normal tails; the gamma law as Poisson limits and the beta law
// as exact binomial limits are in TestIntervalsAgreeWithPublishedTables.
func TestLawsOfPublishedTables(t *testing.T) {
	for df, at := range map[float64]float64{1: 3.841, 2: 5.991, 5: 11.070, 10: 18.307, 30: 43.773} {
		_, upper, err := ChiSquareCDF(at, df)
		require.NoError(t, err)
		require.InDelta(t, 0.05, upper, 2e-5, "%g degrees of freedom", df)
		twice, err := GammaQuantile(0.05, df/2, true)
		require.NoError(t, err)
		require.InDelta(t, at, 2*twice, 5.1e-4)
		_, upper, err = GammaCDF(at/2, df/2)
		require.NoError(t, err)
		require.InDelta(t, 0.05, upper, 2e-5)
	}
	for df, at := range map[float64]float64{1: 12.706, 4: 2.776, 10: 2.228, 14: 2.145, 120: 1.980} {
		require.InDelta(t, at, TwoSidedT(0.95, df), 5.1e-4)
	}
	for level, at := range map[float64]float64{0.90: 1.645, 0.95: 1.960, 0.99: 2.576} {
		require.InDelta(t, at, TwoSidedZ(level), 5.1e-4)
		_, upper := NormalTails(at)
		require.InDelta(t, (1-level)/2, upper, 6e-5)
	}
	// Exact 95 % limits of 1 in 10: .0025 to .4450.
	low, err := BetaQuantile(0.025, 1, 10, false)
	require.NoError(t, err)
	high, err := BetaQuantile(0.025, 2, 9, true)
	require.NoError(t, err)
	requirePrinted(t, []float64{.0025, .4450}, []float64{low, high}, 5e-5, "binomial limits")
	below, _, err := BetaCDF(high, 2, 9)
	require.NoError(t, err)
	require.True(t, almost(below, 0.975, 1e-12))
}
