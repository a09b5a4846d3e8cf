package stats

import (
	"fmt"

	"gonum.org/v1/gonum/mat"
)

// coxResiduals are cumulated sums from which any row's score residual follows
// without a further pass: of the hazard steps, and of the hazard steps times the
// mean design in the risk set.
type coxResiduals struct {
	hazard coxSums
	mean   []coxSums // by column of the basis
}

func (f *CoxFit) residuals() coxResiduals {
	r := f.risk
	out := coxResiduals{hazard: f.index.cumulate(func(t int) float64 { return r.one[t] * r.inverse[t] })}
	for k := range r.m {
		out.mean = append(out.mean, f.index.cumulate(func(t int) float64 {
			return (r.one2[t]*r.s1[t*r.m+k] - r.c2[t]*r.d1[t*r.m+k]) * r.inverse[t]
		}))
	}
	return out
}

// addScore adds count times the score residual of one observation of row i to u:
// its part in observed minus expected design. With Efron's ties an observation with
// the event is at risk in step i of its tie with share 1 - c_i, and is credited with
// the mean over the steps of its distance from the risk set.
func (f *CoxFit) addScore(u []float64, res coxResiduals, i int, count float64) {
	lo, hi := f.index.lo[i], f.index.hi[i]
	if lo == hi {
		return
	}
	row, r, m := f.rows[i], f.risk, f.risk.m
	t := int(hi) - 1
	q := f.linear.basis.q[row.Pattern*m : row.Pattern*m+m]
	hazard := r.hazard[row.Pattern]
	expected := f.index.between(res.hazard, lo, hi)
	if row.Event {
		expected -= r.c[t] * r.inverse[t]
	}
	for k := range u {
		s, d := r.s1[t*m+k], r.d1[t*m+k]
		mean := f.index.between(res.mean[k], lo, hi)
		if row.Event {
			mean -= (r.c2[t]*s - r.cc2[t]*d) * r.inverse[t]
			u[k] += count * (q[k] - (r.one[t]*s-r.c[t]*d)/f.index.deaths[t])
		}
		u[k] -= count * hazard * (expected*q[k] - mean)
	}
}

// ClusterCovariance is the cluster-robust sandwich of Lin & Wei (1989) from score
// residuals summed within clusters. A Composition's members are row numbers (not
// pattern numbers), because a person's time and event matter; the compositions must
// account for every row's count exactly. CR0 is what R's coxph gives; CR1 has the
// factor G/(G-1); there is no CR2 for this model. Tests use Student's t with G-1
// degrees of freedom. Simulated 95 % limits with CR1 cover 94.5-96 % for 40 to 300
// clusters and about 93 % for 12; below 30 clusters they carry Warning "few-clusters".
func (f *CoxFit) ClusterCovariance(kind ClusterKind, clusters []Composition) (Covariance, error) {
	if kind != CR0 && kind != CR1 {
		return Covariance{}, fmt.Errorf("%w: a Cox model takes CR0 or CR1", ErrBadInput)
	}
	g, err := f.linear.checkCompositions(clusters)
	if err != nil {
		return Covariance{}, err
	}
	m, res := f.risk.m, f.residuals()
	meat, u := mat.NewSymDense(m, nil), make([]float64, m)
	for _, c := range clusters {
		clear(u)
		for _, member := range c.Members {
			f.addScore(u, res, member.Pattern, member.Count)
		}
		meat.SymRankOne(meat, c.N, mat.NewVecDense(m, u))
	}
	cov := Covariance{Kind: "CR0", DF: g - 1}
	scale := 1.0
	if kind == CR1 {
		cov.Kind, scale = "CR1", g/(g-1)
	}
	cov.Matrix = f.linear.sandwich(meat, scale)
	if g < fewClusters {
		cov.Warnings = []Warning{{"few-clusters", fmt.Sprintf("only %.0f clusters: limits may be too narrow below %d", g, fewClusters)}}
	}
	return cov, nil
}
