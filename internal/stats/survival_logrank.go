package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// RankTest is the outcome of a test that compares groups.
type RankTest struct {
	// Observed and Expected events by group, summed over strata.
	Observed, Expected []float64
	// Covariance of Observed-Expected, by group.
	Covariance [][]float64
	ChiSquare  float64
	DF         int
	P          float64
}

// LogRank tests that k groups share one hazard at every time within each stratum:
// strata[s][g] holds the counts of group g in stratum s. Every stratum has the same groups in the
// same order; a group may be empty in a stratum, not in all. The covariance is the
// hypergeometric one. No event at all is ErrNoData.
// References: Mantel 1966; Peto & Peto 1972, J R Stat Soc A 135:185.
func LogRank(strata [][][]TimeCount) (RankTest, error) {
	r, v, err := logRankSums(strata)
	if err != nil {
		return RankTest{}, err
	}
	return r.finish(v)
}

// LogRankTrend tests for a hazard that rises or falls with the groups' scores (one each), with
// one degree of freedom: (sum of score (O-E))^2 over its variance.
// Reference: Tarone 1975, Biometrika 62:679.
func LogRankTrend(strata [][][]TimeCount, scores []float64) (RankTest, error) {
	r, v, err := logRankSums(strata)
	if err != nil {
		return RankTest{}, err
	}
	if len(scores) != len(r.Observed) {
		return RankTest{}, fmt.Errorf("%d scores for %d groups: %w", len(scores), len(r.Observed), ErrBadInput)
	}
	sum, variance := 0.0, 0.0
	for i, a := range scores {
		if math.IsNaN(a) || math.IsInf(a, 0) {
			return RankTest{}, fmt.Errorf("score %v: %w", a, ErrBadInput)
		}
		sum += a * (r.Observed[i] - r.Expected[i])
		for j, b := range scores {
			variance += a * b * v.At(i, j)
		}
	}
	if !(variance > 0) {
		return RankTest{}, fmt.Errorf("scores do not separate groups at risk together: %w", ErrNoData)
	}
	r.Covariance, r.DF, r.ChiSquare = denseRows(v), 1, sum*sum/variance
	_, r.P, err = ChiSquareCDF(r.ChiSquare, 1)
	return r, err
}

// logRankSums adds observed, expected and covariance over strata and times.
func logRankSums(strata [][][]TimeCount) (RankTest, *mat.SymDense, error) {
	if len(strata) == 0 || len(strata[0]) < 2 {
		return RankTest{}, nil, fmt.Errorf("fewer than two groups: %w", ErrBadInput)
	}
	k := len(strata[0])
	r := RankTest{Observed: make([]float64, k), Expected: make([]float64, k)}
	v := mat.NewSymDense(k, nil)
	events := 0.0
	for s, groups := range strata {
		if len(groups) != k {
			return r, nil, fmt.Errorf("stratum %d has %d groups, not %d: %w", s, len(groups), k, ErrBadInput)
		}
		rows, risk, err := alignGroups(asCauses(groups))
		if err != nil {
			return r, nil, err
		}
		for _, row := range rows {
			events += r.addTime(v, row, risk)
			for g, c := range row {
				risk[g] -= float64(c.Censored + c.Events[0])
			}
		}
	}
	if events == 0 {
		return r, nil, fmt.Errorf("no event: %w", ErrNoData)
	}
	return r, v, nil
}

// addTime adds one time of one stratum and returns its number of events.
func (r *RankTest) addTime(v *mat.SymDense, row []CauseCount, risk []float64) float64 {
	n, d := 0.0, 0.0
	for g := range row {
		n += risk[g]
		d += float64(row[g].Events[0])
	}
	if d == 0 {
		return 0
	}
	spread := 0.0
	if n > 1 {
		spread = d * (n - d) / (n - 1)
	}
	for i := range row {
		share := risk[i] / n
		r.Observed[i] += float64(row[i].Events[0])
		r.Expected[i] += d * share
		v.SetSym(i, i, v.At(i, i)+spread*share*(1-share))
		for j := range i {
			v.SetSym(i, j, v.At(i, j)-spread*share*risk[j]/n)
		}
	}
	return d
}

// asCauses reads single-event counts as counts with one cause.
func asCauses(groups [][]TimeCount) [][]CauseCount {
	out := make([][]CauseCount, len(groups))
	for g, rows := range groups {
		out[g] = make([]CauseCount, len(rows))
		for i, r := range rows {
			out[g][i] = CauseCount{r.Time, []int64{r.Events}, r.Censored}
		}
	}
	return out
}

// alignGroups merges each group and lines the groups up by time: one row a distinct
// time, with one entry a group. Risk is each group's size.
func alignGroups(groups [][]CauseCount) (rows [][]CauseCount, risk []float64, err error) {
	var all []CauseCount
	for _, g := range groups {
		all = append(all, g...)
	}
	if len(all) == 0 {
		return nil, make([]float64, len(groups)), nil
	}
	causes := len(all[0].Events)
	merged, err := mergeCauses(all)
	if err != nil {
		return nil, nil, err
	}
	place := make(map[float64]int, len(merged))
	for i, m := range merged {
		place[m.Time] = i
		row := make([]CauseCount, len(groups))
		for g := range row {
			row[g] = CauseCount{Time: m.Time, Events: make([]int64, causes)}
		}
		rows = append(rows, row)
	}
	risk = make([]float64, len(groups))
	for g, counts := range groups {
		for _, c := range counts {
			i, held := place[c.Time]
			if !held {
				continue // a time at which nobody left
			}
			rows[i][g].Censored += c.Censored
			risk[g] += float64(c.Censored)
			for k, e := range c.Events {
				rows[i][g].Events[k] += e
				risk[g] += float64(e)
			}
		}
	}
	return rows, risk, nil
}

// finish forms the quadratic form of O-E with the generalised inverse of v, whose rank is
// the degrees of freedom: groups never at risk together do not count.
func (r RankTest) finish(v *mat.SymDense) (RankTest, error) {
	r.Covariance = denseRows(v)
	u := make([]float64, len(r.Observed))
	for i := range u {
		u[i] = r.Observed[i] - r.Expected[i]
	}
	var err error
	r.ChiSquare, r.DF, err = quadraticForm(u, v)
	if err != nil {
		return RankTest{}, err
	}
	_, r.P, err = ChiSquareCDF(r.ChiSquare, float64(r.DF))
	return r, err
}

// quadraticForm is u' v^- u and the rank of v. A rank of 0 is ErrNoData.
func quadraticForm(u []float64, v *mat.SymDense) (float64, int, error) {
	var eigen mat.EigenSym
	if !eigen.Factorize(v, true) {
		return 0, 0, fmt.Errorf("eigenvalues of the covariance: %w", ErrNoConvergence)
	}
	values := eigen.Values(nil)
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	largest, sum, rank := values[len(values)-1], 0.0, 0
	for k, value := range values {
		if !(value > 1e-10*largest) {
			continue
		}
		dot := mat.Dot(mat.NewVecDense(len(u), u), vectors.ColView(k))
		sum += dot * dot / value
		rank++
	}
	if rank == 0 {
		return 0, 0, fmt.Errorf("no two groups are at risk together: %w", ErrNoData)
	}
	return sum, rank, nil
}

func denseRows(v *mat.SymDense) [][]float64 {
	n := v.SymmetricDim()
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
		for j := range out[i] {
			out[i][j] = v.At(i, j)
		}
	}
	return out
}
