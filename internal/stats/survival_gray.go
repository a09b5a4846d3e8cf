package stats

import (
	"fmt"

	"gonum.org/v1/gonum/mat"
)

// GrayTest compares the cumulative incidence of one cause between groups while other causes
// compete: strata[s][g] holds the counts of group g in stratum s. It is Gray's test with
// weight 1 and his variance, with the tie factors that the cmprsk package of R uses. No event of the cause
// is ErrNoData. Reference: Gray 1988, Ann Stat 16:1141.
func GrayTest(strata [][][]CauseCount, cause int) (RankTest, error) {
	if len(strata) == 0 || len(strata[0]) < 2 {
		return RankTest{}, fmt.Errorf("fewer than two groups: %w", ErrBadInput)
	}
	k := len(strata[0])
	r := RankTest{Observed: make([]float64, k), Expected: make([]float64, k)}
	v := mat.NewSymDense(k, nil)
	events := 0.0
	for s, groups := range strata {
		if len(groups) != k {
			return RankTest{}, fmt.Errorf("stratum %d has %d groups, not %d: %w", s, len(groups), k, ErrBadInput)
		}
		rows, risk, err := alignGroups(groups)
		if err != nil {
			return RankTest{}, err
		}
		if len(rows) == 0 {
			continue
		}
		if cause < 0 || cause >= len(rows[0][0].Events) {
			return RankTest{}, fmt.Errorf("cause %d: %w", cause, ErrBadInput)
		}
		g := newGrayStratum(risk)
		for _, row := range rows {
			g.step(row, cause, &r)
		}
		g.addVariance(v)
	}
	for _, o := range r.Observed {
		events += o
	}
	if events == 0 {
		return RankTest{}, fmt.Errorf("no event of cause %d: %w", cause, ErrNoData)
	}
	return r.finish(v)
}

// grayStratum walks the times of one stratum. The variance needs the weights of later times at
// earlier ones, so each step's share is kept and summed at the end.
type grayStratum struct {
	risk                []float64
	survival, incidence []float64 // by group, just before the time
	pooled              float64   // incidence under the hypothesis
	weights             *mat.Dense
	shares              []grayShare
}

// grayShare is the part w u u' of the variance that group g has at one time, where
// u = own + slope (weights at the end - weights then), in column g.
type grayShare struct {
	group    int
	w, slope float64
	own      []float64 // own - slope * weights then
}

func newGrayStratum(risk []float64) *grayStratum {
	k := len(risk)
	g := &grayStratum{risk: risk, survival: make([]float64, k), incidence: make([]float64, k), weights: mat.NewDense(k, k, nil)}
	for i := range k {
		g.survival[i] = 1
	}
	return g
}

// step takes one time in: score, pooled incidence, variance shares, then the risk sets.
func (g *grayStratum) step(row []CauseCount, cause int, r *RankTest) {
	k := len(row)
	own, other := make([]float64, k), make([]float64, k)
	// adjusted is the risk set over survival; its sum weighs the pooled hazard, and subTotal
	// does so with those who had a competing event kept in.
	adjusted := make([]float64, k)
	ownTotal, total, subTotal := 0.0, 0.0, 0.0
	for i, c := range row {
		own[i] = float64(c.Events[cause])
		other[i] = float64(sumCounts(c.Events)) - own[i]
		ownTotal += own[i]
		if g.risk[i] > 0 {
			adjusted[i] = g.risk[i] / g.survival[i]
			total += adjusted[i]
			subTotal += adjusted[i] * (1 - g.incidence[i])
		}
	}
	after := append([]float64(nil), g.survival...)
	for i := range row {
		if g.risk[i] > 0 {
			after[i] *= (g.risk[i] - own[i] - other[i]) / g.risk[i]
		}
	}
	if ownTotal > 0 {
		g.addOwn(r, own, adjusted, after, ownTotal, total, subTotal)
	}
	for i := range row {
		if other[i] > 0 && after[i] > 0 {
			w := g.survival[i] * g.survival[i] * tieFactor(other[i], g.risk[i]) * other[i] / (g.risk[i] * g.risk[i])
			g.keep(i, w, -(1-g.pooled)/after[i], make([]float64, k))
		}
		if g.risk[i] > 0 {
			g.incidence[i] += g.survival[i] * own[i] / g.risk[i]
		}
		g.risk[i] -= own[i] + other[i] + float64(row[i].Censored)
	}
	g.survival = after
}

// addOwn takes in the events of the cause at one time.
func (g *grayStratum) addOwn(r *RankTest, own, adjusted, after []float64, ownTotal, total, subTotal float64) {
	k := len(own)
	now := mat.NewDense(k, k, nil)
	for i := range k {
		r.Observed[i] += own[i]
		r.Expected[i] += ownTotal * adjusted[i] * (1 - g.incidence[i]) / subTotal
		for j := range k {
			now.Set(i, j, -adjusted[i]*adjusted[j]/total)
		}
		now.Set(i, i, now.At(i, i)+adjusted[i])
	}
	var grown mat.Dense
	grown.Scale(ownTotal/(total*(1-g.pooled)), now)
	g.weights.Add(g.weights, &grown)
	g.pooled += ownTotal / total
	for i := range k {
		if g.risk[i] <= 0 {
			continue
		}
		slope := 1.0
		if after[i] > 0 {
			slope = 1 - (1-g.pooled)/after[i]
		}
		w := tieFactor(ownTotal, total*g.survival[i]) * g.survival[i] * ownTotal / (total * g.risk[i])
		g.keep(i, w, slope, mat.Col(nil, i, now))
	}
}

// keep records a share; the sign of u does not matter.
func (g *grayStratum) keep(group int, w, slope float64, own []float64) {
	for i := range own {
		own[i] -= slope * g.weights.At(i, group)
	}
	g.shares = append(g.shares, grayShare{group, w, slope, own})
}

// addVariance sums the shares of the stratum into v.
func (g *grayStratum) addVariance(v *mat.SymDense) {
	for _, s := range g.shares {
		u := mat.NewVecDense(len(s.own), nil)
		for i := range s.own {
			u.SetVec(i, s.own[i]+s.slope*g.weights.At(i, s.group))
		}
		v.SymRankOne(v, s.w, u)
	}
}
