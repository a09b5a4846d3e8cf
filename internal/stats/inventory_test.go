package stats

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// inventory says, for everything that this package exports, which test holds it
// against an example that was published and which against an independent
// implementation: R or one of its packages, exact sums, or the definition written out.
// Where nothing is published that could be checked, note says so. Agreement is 1e-8
// relative for closed forms and 1e-6 for fits unless note says otherwise; coverage by
// simulation stands in the coverage_*_test.go files.
var inventory = []struct {
	functions, published, independent, note string
}{
	// Intervals and laws
	{"Wilson ClopperPearson Newcombe", "TestIntervalsAgreeWithPublishedTables", "TestIntervalsAgreeWithR", ""},
	{"PoissonExact Byar", "TestIntervalsAgreeWithPublishedTables", "TestIntervalsAgreeWithR", "Byar's approximation is itself the cross-check of ObservedExpectedExact"},
	{"ObservedExpectedExact", "", "TestObservedOverExpected", "none of its own: it is PoissonExact with the expected number as exposure"},
	{"RateRatioExact", "TestRateRatioOfPublishedFluoroscopy", "TestIntervalsAgreeWithR", ""},
	{"WilsonWarnings ClopperPearsonWarnings PoissonExactWarnings RateRatioWarnings NewcombeWarnings", "", "TestIntervalWarningsSpeakWhereCountsAreFew TestCoverageSwingsOfProportionsAreWarnedOf TestCoverageOfPoissonRates TestCoverageOfNewcombe TestCoverageOfRateRatios", "none: the places where coverage leaves 93-97 % were worked out by exact sums"},
	{"Quantile7", "", "TestIntervalsAgreeWithR", "none: Hyndman & Fan 1996 print formulas; it is the default of R, which made the second run"},
	{"PoissonCDF PoissonQuantile BinomialCDF BinomialQuantile NegBinomialCDF NegBinomialQuantile", "", "TestDiscreteQuantilesAgreeWithR TestBinomialTailsAgainstSummation", "none: tables stop at four digits, R does not"},
	{"GammaCDF GammaQuantile BetaCDF BetaQuantile NormalTails ChiSquareCDF TwoSidedZ TwoSidedT", "TestLawsOfPublishedTables", "TestIntervalTailsAgreeWithR TestQuantilesInvertTheirLaws TestEWMARunLengthAgainstR", ""},
	// Time to event
	{"KaplanMeier SurvivalCurve.At SurvivalPoint.SE SurvivalCurve.Quantile", "TestKaplanMeierOfRemissionTimes", "TestKaplanMeierAgreesWithR", ""},
	{"SurvivalPoint.Limits SurvivalCurve.AtRisk SurvivalCurve.End SurvivalCurve.Events", "", "TestKaplanMeierOfRemissionTimes TestKaplanMeierAgreesWithR TestCurvesAtNoTime", "none of their own: they read the curve of TestKaplanMeierOfRemissionTimes"},
	{"SurvivalCurve.RestrictedMean", "TestLogRankOfPublishedRemissionTimes", "TestKaplanMeierAgreesWithR", ""},
	{"LogRank", "TestLogRankOfPublishedRemissionTimes TestTrendOfPublishedLarynxStages", "TestLogRankAgreesWithR", ""},
	{"LogRankTrend", "TestTrendOfPublishedLarynxStages", "TestLogRankAgreesWithR", ""},
	{"CumulativeIncidence IncidenceCurve.At", "TestGrayTestOfPublishedExample", "TestCumulativeIncidenceAgreesWithR", ""},
	{"Incidences", "", "TestIncidencesAreThoseOfTheCurve", "none of its own: it is CumulativeIncidence without variances"},
	{"IncidencePoint.Limits", "", "TestCumulativeIncidenceAgreesWithR", "none: papers print the curve's variance, from which these follow"},
	{"GrayTest", "TestGrayTestOfPublishedExample", "TestGrayTestAgreesWithR", ""},
	{"IncidenceInfluence Influence.Of", "", "TestInfluencesSquareToTheVariance TestInfluenceIsTheDerivative", "none: held against the derivative that it is, by differences"},
	{"MeanCumulative MCF.At MCF.RobustVariance", "TestMCFOfPublishedValveSeats", "TestMCFAgreesWithR", ""},
	{"RobustFromSquares MCF.RiskTables MCFRow.Limits", "", "TestRiskTablesJoinAsTheVarianceDoes TestMCFAgreesWithR TestMCFOnSmallAndHostileInput TestCoverageOfRobustMCF", "none of their own: other forms of MCF.RobustVariance"},
	// Models on weighted patterns
	{"FitGLM", "TestPoissonOfPublishedDoctors TestLogisticOfPublishedRings TestPublishedNegativeBinomialAndFirth TestBasisOnLongley TestBasisOnWampler TestBasisOnFilip", "TestFitsAgainstR TestHugeCountsAgainstR TestLikelihoodIsFlatAtTheFit", "glm.nb stops at about 1e-8 of its own; of NIST's Filip the last term is named and dropped"},
	{"Fit.Wald Fit.ModelCovariance", "TestPoissonOfPublishedDoctors", "TestFitsAgainstR TestTestsAgainstR", ""},
	{"FitFirth Fit.ProfileLimits", "TestPublishedNegativeBinomialAndFirth", "TestFirthAgainstR TestPenalisedLikelihoodIsFlatAtTheFirthFit TestFirthOfSaturatedGroups", ""},
	{"Fit.ProfileTest", "", "TestFirthAgainstR", "none: the limits, which are printed, invert it"},
	{"Fit.HCCovariance Fit.ClusterCovariance", "", "TestRobustCovarianceAgainstR TestRobustAfterEveryFamilyAgainstR TestRobustCovarianceAgainstRowByRow", "none with data that can be printed for GLMs; for Cox see TestCoxOfPublishedBladderTumours"},
	{"Fit.QuasiCovariance Fit.PearsonDispersion Fit.WaldJoint Fit.ScoreTest LikelihoodRatio", "", "TestTestsAgainstR TestRobustAfterEveryFamilyAgainstR", "none: R's anova, summary and add1 stand for them"},
	{"Fit.Standardise", "TestStandardisingPublishedKidneyStones", "TestStandardiseAgainstR TestStandardiseAfterEveryFamilyAgainstR TestBootstrapAgreesWithDeltaLimits", ""},
	{"SplineKnots SplineBasis", "TestPublishedKnotsAndSizes", "TestSplineAgainstR", ""},
	{"Fit.SplineCurve Fit.SplineTests", "", "TestSplineCurveAgainstR", "none with data that can be printed; rms made the second run"},
	{"StratifyPoisson", "TestPoissonOfPublishedDoctors", "TestPoissonOfPublishedDoctors TestStratifiedPoissonIsAPoissonRegression", ""},
	{"StratifyRatio", "TestPoissonOfPublishedDoctors", "TestCommonRatioAgreesWithPoissonRegression", ""},
	{"FitCox CoxFit.ModelCovariance", "TestCoxOfPublishedRemissionTimes TestCoxOfPublishedBladderTumours", "TestCoxAgreesWithR TestCoxAgainstSlowLikelihood", ""},
	{"CoxFit.ClusterCovariance", "TestCoxOfPublishedBladderTumours", "TestCoxAgreesWithR TestCoxScoreResidualsAgainstDefinition", "CR0 is what R gives; there is no CR2 for this model"},
	{"CoxFit.Proportionality CoxFit.BaselineHazard CoxFit.Wald CoxFit.WaldJoint CoxFit.ScoreTest CoxFit.LikelihoodRatio CoxLikelihoodRatio", "", "TestCoxAgreesWithR TestCoxWaldAndNestedModels", "none of their own: R's cox.zph, basehaz and summary on four published data sets"},
	// Units beside each other
	{"IndirectRatios Disperse ShrinkRatios", "TestShrinkRatiosLipCancerAgainstR", "TestShrinkRatiosLipCancerAgainstR TestRatiosAndFunnelLipCancerAgainstR TestShrinkRatiosBeatsEveryGridPoint", "glm.nb is good to 1e-7 here"},
	{"ShrinkShares", "TestShrinkingPublishedSaxonFamilies", "TestShrinkSharesAgainstR", ""},
	{"RatioFunnel", "TestRatiosAndFunnelLipCancerAgainstR", "TestFunnelLimitsAgainstR TestFunnelSpreadAgainstR", "published data; Spiegelhalter 2005 prints its limits as a picture only"},
	{"ShareFunnel Funnel.Limits Funnel.ExactLimits DefaultFunnel", "TestShareFunnelWorkedLimits", "TestFunnelLimitsAgainstR TestFunnelSpreadAgainstR TestInterpolatedLimitsAgainstPlainSums", ""},
	// Monitoring
	{"UChart PChart DefaultChart", "TestLaneyChartOfPublishedExample", "TestChartsAgainstR TestChartFlags TestChartHostile", "R's factor 1.128 has three decimals in the published example"},
	{"Chart.EWMA DefaultEWMA EWMARunLength EWMAWidth", "TestEWMARunLengthAgainstR", "TestEWMARunLengthAgainstR TestChartsAgainstR", ""},
	{"BernoulliScores PoissonScore Cusum", "TestBernoulliScoresWorkedValues TestCusumByHand", "TestCoverageOfRunLength TestMonitorHostile", "by hand: the scores are one line of arithmetic"},
	{"BernoulliScoreLaw CusumLimit CusumLimitBetween", "TestRunLengthOfPublishedRiskAdjustedCusum", "TestBernoulliRunLengthOnLatticeAgainstR TestBernoulliRunLengthOffLatticeAgainstR TestScoreLawProperties TestCusumLimitIsTheSmallest TestCoverageOfCusumLimits TestLimitSearchIsPlainHalving", "off the lattice the chain is within 2 %"},
	{"RunLength PoissonScoreLaw", "TestRunLengthOfPublishedCountCusum TestRunLengthOfPublishedNormalCusum", "TestPoissonRunLengthAgainstR TestRunLengthAgainstASecondPackage", ""},
	{"ScatteredScoreLaw", "", "TestScatteredRunLengthAgainstR TestScatteredLawAgreesWithTheCounts", "none: published run lengths are for Poisson counts"},
	{"RunsRules RunsAccepted", "TestFalseRunSignalPublishedCounts TestRunsAcceptedWorkedValues TestRunsRulesByHand", "TestRunsRulesAgainstR TestFalseRunSignalByEnumeration TestRunsProbByEnumeration", ""},
	// Measurement
	{"CollectRepeats WithinSD Repeats.ICC AgreementLimits", "TestMeasurementAgreesWithPrintedValues", "TestRepeatsAgreeWithR TestAgreementLimitsAgreeWithR", ""},
	{"Repeats.Reliability Reliability.Given CalibrateSlope", "", "TestDigitsAndCalibrationAgainstR TestCalibrationByHand TestMeanSquareVariancesAgainstDraws TestCalibrationGivenOtherColumns TestSIMEXAgreesWithCalibration", "none with data that can be printed; by hand, by draws and against SIMEX"},
	{"SIMEX", "", "TestSIMEXAgreesWithR TestSIMEXAgreesWithCalibration", "none prints data that small; the same noise in R, 1e-5 for the ratio's pole"},
	{"DigitPreferenceOf", "", "TestDigitsAndCalibrationAgainstR TestDigitPreferenceByHand TestDigitLimitsAgainstTheBinomialLaw", "none: a chi-square by hand and in R, limits against the binomial law"},
	// Families, confounding, planning, resampling
	{"BenjaminiHochberg Holm", "TestAdjustedPOfPublishedExample", "TestAdjustedPAgreeWithR TestAdjustedPAgainstTheProcedures", ""},
	{"EValueRatio EValueDifference", "TestEValueAgreesWithPublishedExamples", "TestEValueAgreesWithR", ""},
	{"EValueHazardRatio EValueOddsRatio EValueMeanDifference", "", "TestEValueAgreesWithR", "none remembered with certainty; each is EValueRatio of a converted ratio"},
	{"SizeTwoProportions", "TestPublishedKnotsAndSizes TestSampleSizesInCommonUse", "TestSampleSizesAgreeWithR", ""},
	{"SizeTwoRates EventsForHazardRatio SizeTimeToEvent", "TestSampleSizesInCommonUse", "TestSampleSizesAgreeWithR", "common practice and memory, as the test says"},
	{"DetectableProportion DetectableRate DetectableHazardRatio", "", "TestSampleSizesAgreeWithR TestDetectableInvertsSize", "none: they invert the sizes, and the test does so"},
	{"Bootstrap", "TestBootstrapOfPublishedSpatialTest", "TestBootstrapLimitsAgreeWithR TestBootstrapAgainstAllResamples", "the published limits come from other draws"},
}

// namesUsed lists, for every function, the names in its body; methods stand under their
// bare name too, because a call does not show the type.
func namesUsed(functions map[string]*ast.BlockStmt) map[string]map[string]bool {
	used := map[string]map[string]bool{}
	for name, body := range functions {
		bare := name[strings.Index(name, ".")+1:]
		for _, key := range []string{name, bare} {
			if used[key] == nil {
				used[key] = map[string]bool{}
			}
			ast.Inspect(body, func(n ast.Node) bool {
				if id, ok := n.(*ast.Ident); ok {
					used[key][id.Name] = true
				}
				return true
			})
		}
	}
	return used
}

// functionsOf are the functions of this folder by name, methods as Type.Name: of the
// tests under every build tag, or of the package itself.
func functionsOf(t *testing.T, tests bool) map[string]*ast.BlockStmt {
	t.Helper()
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	out := map[string]*ast.BlockStmt{}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") != tests {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		for _, d := range file.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			name := fn.Name.Name
			if fn.Recv != nil {
				name = receiver(fn) + "." + name
			}
			out[name] = fn.Body
		}
	}
	return out
}

func receiver(fn *ast.FuncDecl) string {
	of := fn.Recv.List[0].Type
	if star, ok := of.(*ast.StarExpr); ok {
		of = star.X
	}
	if id, ok := of.(*ast.Ident); ok {
		return id.Name
	}
	return ""
}

// uses reports whether a test, or a helper that it calls, names one of the functions.
func uses(calls map[string]map[string]bool, test string, functions, seen map[string]bool) bool {
	if seen[test] {
		return false
	}
	seen[test] = true
	for name := range calls[test] {
		if functions[name] || calls[name] != nil && uses(calls, name, functions, seen) {
			return true
		}
	}
	return false
}

// addParts adds the functions that one is made of, down to a depth.
func addParts(to map[string]bool, parts map[string]map[string]bool, function string, depth int) {
	for name := range parts[function] {
		if parts[name] != nil && depth > 0 {
			to[name] = true
			addParts(to, parts, name, depth-1)
		}
	}
}

// Everything exported stands in the inventory once; every test that it names exists; one
// of them at least calls the function; and each calls one of the functions it stands
// for, or a part that one of them is made of.
func TestInventoryIsComplete(t *testing.T) {
	ours, calls := functionsOf(t, false), namesUsed(functionsOf(t, true))
	parts, listed := namesUsed(ours), map[string]bool{}
	for _, line := range inventory {
		require.NotEmpty(t, line.independent, line.functions)
		assert.True(t, line.published != "" || strings.HasPrefix(line.note, "none"), "%s: say why no published example holds it", line.functions)
		tests, madeOf := strings.Fields(line.published+" "+line.independent), map[string]bool{}
		for _, f := range strings.Fields(line.functions) {
			bare := f[strings.Index(f, ".")+1:]
			assert.Contains(t, ours, f, "listed but not there")
			assert.False(t, listed[f], "%s is listed twice", f)
			listed[f], madeOf[bare] = true, true
			addParts(madeOf, parts, f, 3)
			called := slices.ContainsFunc(tests, func(test string) bool {
				return uses(calls, test, map[string]bool{bare: true}, map[string]bool{})
			})
			assert.True(t, called, "no test that is named for %s calls it", f)
		}
		for _, test := range tests {
			assert.Contains(t, calls, test, "no such test, for %s", line.functions)
			assert.True(t, uses(calls, test, madeOf, map[string]bool{}), "%s is named for %s, but calls none of it", test, line.functions)
		}
	}
	for f := range ours {
		if ast.IsExported(f[strings.Index(f, ".")+1:]) {
			assert.True(t, listed[f], "%s is not in the inventory", f)
		}
	}
}
