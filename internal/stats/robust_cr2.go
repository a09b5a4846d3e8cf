package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// cr2 holds the adjustment of every composition, from which scores and the degrees
// of freedom of any contrast follow.
//
// A cluster's rows are written as X = sqrt(n expected) q in units where the
// information is X'X, with H = X M X' and V the diagonal of model variances. The
// adjustment of clubSandwich for a glm, A = D (D (Var e) D)^(-1/2) D with D = sqrt V,
// is then T' on the scaled residuals score/sqrt(expected), where T = V B^(-1/2) and
// B = V (I - H) V. Rows of one pattern share residual and design, so that n equal
// rows count as one times root n, and the rest of A is the identity.
type cr2 struct {
	fit      *Fit
	clusters []Composition
	rows     []*mat.Dense  // X, one per composition
	adjust   []*mat.Dense  // T
	root     *mat.SymDense // of M
}

const (
	// jointRootShare is the variance, as a share of the cluster's largest, below which a
	// pattern is adjusted by its own leverage alone: in B its square is lost in rounding.
	jointRootShare = 1e-6
	// leverageLeft is the share of B below which a direction is determined by the
	// cluster itself and adds nothing.
	leverageLeft = 1e-14
)

func (f *Fit) newCR2(clusters []Composition) (*cr2, error) {
	root, err := symPower(f.covQ, 0.5)
	if err != nil {
		return nil, err
	}
	c := &cr2{fit: f, clusters: clusters, root: root}
	for i, g := range clusters {
		x := f.clusterRows(g.Members)
		t, err := f.clusterRoot(g.Members, x)
		if err != nil {
			return nil, fmt.Errorf("composition %d: %w", i, err)
		}
		c.rows, c.adjust = append(c.rows, x), append(c.adjust, t)
	}
	return c, nil
}

func (f *Fit) clusterRows(members []Member) *mat.Dense {
	m := len(f.gamma)
	x := mat.NewDense(len(members), m, nil)
	for i, a := range members {
		root := math.Sqrt(a.Count * f.terms[a.Pattern].expected)
		for k, q := range f.basis.q[a.Pattern*m : a.Pattern*m+m] {
			x.Set(i, k, root*q)
		}
	}
	return x
}

// clusterRoot is T = V B^(-1/2), the root taken over B's positive eigenvalues.
func (f *Fit) clusterRoot(members []Member, x *mat.Dense) (*mat.Dense, error) {
	n := len(members)
	var half, hat mat.Dense
	half.Mul(x, f.covQ)
	hat.Mul(&half, x.T())
	v, top := make([]float64, n), 0.0
	for i, a := range members {
		if t := f.terms[a.Pattern]; t.expected > 0 {
			v[i] = t.dmu * (t.dmu / t.expected)
		}
		top = math.Max(top, v[i])
	}
	out := mat.NewDense(n, n, nil)
	var joint []int
	for i := range v {
		if v[i] > jointRootShare*top {
			joint = append(joint, i)
		} else if left := 1 - hat.At(i, i); left > leverageLeft {
			out.Set(i, i, 1/math.Sqrt(left))
		}
	}
	if len(joint) == 0 {
		return out, nil
	}
	b := mat.NewSymDense(len(joint), nil)
	for a, i := range joint {
		for c, j := range joint[:a+1] {
			h := -hat.At(i, j)
			if i == j {
				h++
			}
			b.SetSym(a, c, v[i]/top*h*v[j]/top)
		}
	}
	root, err := symPower(b, -0.5)
	if err != nil {
		return nil, err
	}
	for a, i := range joint {
		for c, j := range joint {
			out.Set(i, j, v[i]/top*root.At(a, c))
		}
	}
	return out, nil
}

// symPower is the symmetric power of b over the eigenvalues above leverageLeft of the
// largest.
func symPower(b *mat.SymDense, power float64) (*mat.SymDense, error) {
	var e mat.EigenSym
	if sum := mat.Sum(b); math.IsNaN(sum) || math.IsInf(sum, 0) || !e.Factorize(b, true) {
		return nil, fmt.Errorf("%w: eigenvalues of a robust adjustment", ErrNoConvergence)
	}
	n := b.SymmetricDim()
	var vectors mat.Dense
	e.VectorsTo(&vectors)
	values, out := e.Values(nil), mat.NewSymDense(n, nil)
	for k, l := range values {
		if l > leverageLeft*values[n-1] {
			out.SymRankOne(out, math.Pow(l, power), vectors.ColView(k))
		}
	}
	return out, nil
}

// meat is the sum over clusters of the adjusted scores' outer products.
func (c *cr2) meat() *mat.SymDense {
	m := len(c.fit.gamma)
	out := mat.NewSymDense(m, nil)
	for i, g := range c.clusters {
		e, u := mat.NewVecDense(len(g.Members), nil), mat.NewVecDense(m, nil)
		for a, member := range g.Members {
			t := c.fit.terms[member.Pattern]
			if t.expected > 0 {
				e.SetVec(a, math.Sqrt(member.Count)*t.score/math.Sqrt(t.expected))
				continue
			}
			// Information that has underflowed has no leverage: the plain score.
			u.AddScaledVec(u, member.Count*t.score, mat.NewVecDense(m, c.fit.basis.q[member.Pattern*m:member.Pattern*m+m]))
		}
		var adjusted, own mat.VecDense
		adjusted.MulVec(c.adjust[i].T(), e)
		own.MulVec(c.rows[i].T(), &adjusted)
		u.AddVec(u, &own)
		out.SymRankOne(out, g.N, u)
	}
	return out
}

// degrees are the degrees of freedom of the estimated covariance of the contrasts in
// the columns of c, given in the basis: with one contrast Satterthwaite's (Bell &
// McCaffrey 2002), with q those of the approximate Hotelling T^2 (Tipton &
// Pustejovsky 2015), both with the model's variance as the working one.
// NaN where the clusters cannot tell.
func (c *cr2) degrees(contrasts *mat.Dense) float64 {
	m, q := contrasts.Dims()
	omega := mat.NewSymDense(q, nil)
	c.eachBlock(contrasts, func(n float64, own *mat.SymDense, _ *mat.Dense) { omega.AddSym(omega, scaledSym(n, own)) })
	root, err := symPower(omega, -0.5)
	if err != nil {
		return math.NaN()
	}
	var standard mat.Dense
	standard.Mul(contrasts, root)
	// The sum over pairs of clusters of (tr P)^2 + tr P^2, P = -S'S between clusters:
	// through the moments of vec S for all pairs, corrected for a cluster with itself.
	pairs, total := mat.NewSymDense(m*q, nil), 0.0
	c.eachBlock(&standard, func(n float64, own *mat.SymDense, s *mat.Dense) {
		var cross mat.Dense
		cross.Mul(s.T(), s)
		total += n * (traces(own) - traces(&cross))
		// vec S by columns, so that entry a*m+i is row i of column a.
		vec := make([]float64, 0, m*q)
		for a := range q {
			vec = append(vec, mat.Col(nil, a, s)...)
		}
		pairs.SymRankOne(pairs, n, mat.NewVecDense(m*q, vec))
	})
	for a := range q {
		for b := range q {
			for i := range m {
				for j := range m {
					total += pairs.At(a*m+i, b*m+j) * (pairs.At(a*m+i, b*m+j) + pairs.At(b*m+i, a*m+j))
				}
			}
		}
	}
	// At least 1 by Cauchy's inequality; less is rounding where every cluster is met exactly.
	if eta := float64(q*(q+1)) / total; eta > 0.99 {
		return eta
	}
	return math.NaN()
}

// eachBlock visits every composition with its N, the covariance P of its own
// contribution to the contrasts, and S, for which P = -S'S between clusters.
func (c *cr2) eachBlock(contrasts *mat.Dense, visit func(n float64, own *mat.SymDense, s *mat.Dense)) {
	_, q := contrasts.Dims()
	var mc mat.Dense
	mc.Mul(c.fit.covQ, contrasts)
	for i, g := range c.clusters {
		var z, t, u, s mat.Dense
		z.Mul(c.rows[i], &mc)
		t.Mul(c.adjust[i], &z)
		u.Mul(c.rows[i].T(), &t)
		s.Mul(c.root, &u)
		own := mat.NewSymDense(q, nil)
		for a := range q {
			for b := range a + 1 {
				own.SetSym(a, b, mat.Dot(t.ColView(a), t.ColView(b))-mat.Dot(s.ColView(a), s.ColView(b)))
			}
		}
		visit(g.N, own, &s)
	}
}

func scaledSym(n float64, a *mat.SymDense) *mat.SymDense {
	out := mat.NewSymDense(a.SymmetricDim(), nil)
	out.ScaleSym(n, a)
	return out
}

// traces is (tr a)^2 + tr a^2.
func traces(a mat.Matrix) float64 {
	trace, squares := mat.Trace(a), 0.0
	n, _ := a.Dims()
	for i := range n {
		for j := range n {
			squares += a.At(i, j) * a.At(j, i)
		}
	}
	return trace*trace + squares
}
