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
// or with factor n/(n-p) HC1 (MacKinnon & White 1985).
func (f *Fit) HCCovariance(hc1 bool) Covariance {
	m := len(f.gamma)
	v := make([]float64, len(f.terms))
	for i, w := range f.data.Weight {
		v[i] = w * f.terms[i].score * f.terms[i].score
	}
	kind, scale := "HC0", 1.0
	if hc1 {
		kind, scale = "HC1", f.weight/(f.weight-float64(m))
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

// ClusterCovariance is the cluster-robust sandwich (Liang & Zeger 1986) with G-1
// degrees of freedom for its tests. The compositions must account for every
// pattern's weight exactly. Below 30 clusters it carries Warning "few clusters".
// CR2 costs the cube of the number of patterns in a composition.
func (f *Fit) ClusterCovariance(kind ClusterKind, clusters []Composition) (Covariance, error) {
	g, err := f.checkCompositions(clusters)
	if err != nil {
		return Covariance{}, err
	}
	m := len(f.gamma)
	meat := mat.NewSymDense(m, nil)
	for _, c := range clusters {
		u := make([]float64, m)
		weights := f.memberScores(kind, c.Members)
		for a, member := range c.Members {
			for k, q := range f.basis.q[member.Pattern*m : member.Pattern*m+m] {
				u[k] += weights[a] * q
			}
		}
		meat.SymRankOne(meat, c.N, mat.NewVecDense(m, u))
	}
	scale := 1.0
	if kind == CR1 {
		scale = g / (g - 1)
	}
	cov := Covariance{Kind: [...]string{"CR0", "CR1", "CR2"}[kind], Matrix: f.sandwich(meat, scale), DF: g - 1}
	if g < fewClusters {
		cov.Warnings = []Warning{{"few clusters", fmt.Sprintf("only %.0f clusters: limits may be too narrow below %d", g, fewClusters)}}
	}
	return cov, nil
}

// checkCompositions returns the number of clusters.
func (f *Fit) checkCompositions(clusters []Composition) (float64, error) {
	seen, g := make([]float64, len(f.data.Weight)), 0.0
	for _, c := range clusters {
		if !(c.N > 0) || math.IsInf(c.N, 0) {
			return 0, fmt.Errorf("%w: composition counted %g times", ErrBadInput, c.N)
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

// memberScores is each member's summed score in eta, adjusted for CR2.
func (f *Fit) memberScores(kind ClusterKind, members []Member) []float64 {
	out := make([]float64, len(members))
	if kind == CR2 {
		return f.adjustedScores(members)
	}
	for a, m := range members {
		out[a] = m.Count * f.terms[m.Pattern].score
	}
	return out
}

// adjustedScores applies A = D (D (V - Z M Z') D)^(-1/2) D to the residuals y-mu,
// with V the model variance, D its root, Z = dmu/deta X and M the bread, as
// clubSandwich does for a glm. Rows of one pattern share residual and design, so A
// acts on one scaled row per pattern: n equal rows count as one times root n.
func (f *Fit) adjustedScores(members []Member) []float64 {
	n, m := len(members), len(f.gamma)
	b, x, root := mat.NewSymDense(n, nil), make([]float64, n), make([]float64, n)
	row := func(a Member) *mat.VecDense { return mat.NewVecDense(m, f.basis.q[a.Pattern*m:a.Pattern*m+m]) }
	for i, a := range members {
		t := f.terms[a.Pattern]
		v := t.dmu * t.dmu / t.expected
		root[i] = math.Sqrt(a.Count * v)
		x[i] = root[i] * t.score * v / t.dmu
		var mq mat.VecDense
		mq.MulVec(f.covQ, row(a))
		for j := range i + 1 {
			other := members[j]
			b.SetSym(i, j, -root[i]*root[j]*t.dmu*f.terms[other.Pattern].dmu*mat.Dot(&mq, row(other)))
		}
		b.SetSym(i, i, b.At(i, i)+v*v)
	}
	x = inverseRootTimes(b, x)
	for i, a := range members {
		t := f.terms[a.Pattern]
		x[i] *= root[i] * t.expected / t.dmu
	}
	return x
}

// inverseRootTimes is b^(-1/2) x, the root taken over b's positive eigenvalues.
func inverseRootTimes(b *mat.SymDense, x []float64) []float64 {
	var e mat.EigenSym
	out := make([]float64, len(x))
	if !e.Factorize(b, true) {
		return x
	}
	var v mat.Dense
	e.VectorsTo(&v)
	values := e.Values(nil)
	for k, l := range values {
		if l <= 1e-12*values[len(values)-1] {
			continue
		}
		s := 0.0
		for i := range x {
			s += v.At(i, k) * x[i]
		}
		for i := range out {
			out[i] += s / math.Sqrt(l) * v.At(i, k)
		}
	}
	return out
}
