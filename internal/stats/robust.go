package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Member says how many observations of a cluster have one pattern.
type Member struct {
	Pattern int
	Count   float64
}

// Composition stands for N clusters made of exactly the same patterns. Query
// side: give every row its pattern number, list each cluster's (pattern, count)
// pairs in pattern order, then group by that list and count. A person with two
// rows is a composition of one or two patterns shared by many persons; a large
// cluster is usually alone in its composition.
type Composition struct {
	Members []Member
	N       float64
}

// fewClusters is the number below which cluster-robust limits carry a warning.
const fewClusters = 30

// HCCovariance is the heteroscedasticity-robust sandwich over observations, HC0,
// or with factor n/(n-p) HC1 (MacKinnon & White 1985), which is NaN, and every
// effect from it withheld, where no degrees of freedom are left.
func (f *Fit) HCCovariance(hc1 bool) Covariance {
	m := len(f.gamma)
	v := make([]float64, len(f.terms))
	for i, w := range f.data.Weight {
		v[i] = w * f.terms[i].score * f.terms[i].score
	}
	kind, scale := "HC0", 1.0
	if hc1 {
		kind, scale = "HC1", f.weight/(f.weight-float64(m))
		if !(f.weight > float64(m)) {
			scale = math.NaN()
		}
	}
	return Covariance{Kind: kind, Matrix: f.sandwich(crossWeighted(f.basis.q, v, m), scale), DF: math.Inf(1)}
}

// sandwich is scale * bread * meat * bread, on the columns.
func (f *Fit) sandwich(meat *mat.SymDense, scale float64) *mat.SymDense {
	var half, full mat.Dense
	half.Mul(f.covQ, meat)
	full.Mul(&half, f.covQ)
	m := len(f.gamma)
	out := mat.NewSymDense(m, nil)
	for i := range m {
		for j := i; j < m; j++ {
			out.SetSym(i, j, scale*full.At(i, j))
		}
	}
	return f.toColumns(out)
}

// ClusterKind selects the small-sample correction of ClusterCovariance.
type ClusterKind int

// Corrections: none; the factor G/(G-1); the adjustment of Bell & McCaffrey (2002)
// with the model variance as target.
const (
	CR0 ClusterKind = iota
	CR1
	CR2
)

// ClusterCovariance is the cluster-robust sandwich (Liang & Zeger 1986). The
// compositions must account for every pattern's weight exactly. Tests use Student's
// law with G-1 degrees of freedom; after CR2 with those of Satterthwaite, derived
// for each contrast (see Effect.DF), which for few or unequal clusters are far
// below G-1. Below 30 clusters it carries Warning "few clusters": simulated 95 %
// limits then keep their level with CR2 and not with CR0 and CR1. CR2 costs the cube
// of the number of patterns in a composition.
func (f *Fit) ClusterCovariance(kind ClusterKind, clusters []Composition) (Covariance, error) {
	if kind < CR0 || kind > CR2 {
		return Covariance{}, fmt.Errorf("%w: correction %d", ErrBadInput, kind)
	}
	g, err := f.checkCompositions(clusters)
	if err != nil {
		return Covariance{}, err
	}
	cov := Covariance{Kind: [...]string{"CR0", "CR1", "CR2"}[kind], DF: g - 1}
	meat, scale := (*mat.SymDense)(nil), 1.0
	if kind == CR2 {
		if cov.cr2, err = f.newCR2(clusters); err != nil {
			return Covariance{}, err
		}
		meat = cov.cr2.meat()
	} else {
		meat = f.clusterMeat(clusters)
	}
	if kind == CR1 {
		scale = g / (g - 1)
	}
	cov.Matrix = f.sandwich(meat, scale)
	if g < fewClusters {
		cov.Warnings = []Warning{{"few clusters", fewClustersText(kind, g)}}
	}
	return cov, nil
}

func fewClustersText(kind ClusterKind, g float64) string {
	if kind == CR2 {
		return fmt.Sprintf("only %.0f clusters: standard errors and degrees of freedom carry a small-sample correction", g)
	}
	return fmt.Sprintf("only %.0f clusters: limits may be too narrow below %d; use CR2", g, fewClusters)
}

// clusterMeat is the sum over clusters of their scores' outer products.
func (f *Fit) clusterMeat(clusters []Composition) *mat.SymDense {
	m := len(f.gamma)
	meat := mat.NewSymDense(m, nil)
	for _, c := range clusters {
		u := make([]float64, m)
		for _, member := range c.Members {
			s := member.Count * f.terms[member.Pattern].score
			for k, q := range f.basis.q[member.Pattern*m : member.Pattern*m+m] {
				u[k] += s * q
			}
		}
		meat.SymRankOne(meat, c.N, mat.NewVecDense(m, u))
	}
	return meat
}

// checkCompositions returns the number of clusters.
func (f *Fit) checkCompositions(clusters []Composition) (float64, error) {
	seen, g := make([]float64, len(f.data.Weight)), 0.0
	for _, c := range clusters {
		if !(c.N > 0) || math.IsInf(c.N, 0) || len(c.Members) == 0 {
			return 0, fmt.Errorf("%w: composition of %d patterns counted %g times", ErrBadInput, len(c.Members), c.N)
		}
		g += c.N
		for _, m := range c.Members {
			if m.Pattern < 0 || m.Pattern >= len(seen) || !(m.Count > 0) {
				return 0, fmt.Errorf("%w: pattern %d counted %g times", ErrBadInput, m.Pattern, m.Count)
			}
			seen[m.Pattern] += c.N * m.Count
		}
	}
	for i, w := range f.data.Weight {
		if !(math.Abs(seen[i]-w) <= 1e-9*math.Max(1, w)) {
			return 0, fmt.Errorf("%w: clusters hold %g of pattern %d, the data %g", ErrBadInput, seen[i], i, w)
		}
	}
	if g < 2 {
		return 0, fmt.Errorf("%w: fewer than two clusters", ErrNoData)
	}
	return g, nil
}
