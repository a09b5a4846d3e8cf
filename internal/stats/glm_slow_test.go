package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// plainLogLik is the log-likelihood of a family from its textbook formula, by a plain
// loop over patterns; theta counts for the negative binomial only.
func plainLogLik(family Family, d Patterns, coef []float64, theta float64) float64 {
	lg := func(x float64) float64 { v, _ := math.Lgamma(x); return v }
	sum := 0.0
	for i, y := range d.Y {
		eta := d.Offset[i]
		for j, b := range coef {
			eta += b * d.X[i*len(coef)+j]
		}
		var l float64
		switch mu := math.Exp(eta); family {
		case Poisson:
			l = y*math.Log(mu) - mu - lg(y+1)
		case NegativeBinomial:
			l = lg(y+theta) - lg(theta) - lg(y+1) + theta*math.Log(theta/(theta+mu)) + y*math.Log(mu/(theta+mu))
		case Logistic:
			l = y*math.Log(mu/(1+mu)) + (1-y)*math.Log(1/(1+mu))
		}
		sum += d.Weight[i] * l
	}
	return sum
}

// plainPenalty is half the log-determinant of the logistic information.
func plainPenalty(d Patterns, coef []float64) float64 {
	p := len(coef)
	info := mat.NewSymDense(p, nil)
	for i, w := range d.Weight {
		x := mat.NewVecDense(p, d.X[i*p:i*p+p])
		mu := 1 / (1 + math.Exp(-d.Offset[i]-mat.Dot(x, mat.NewVecDense(p, coef))))
		info.SymRankOne(info, w*mu*(1-mu), x)
	}
	return math.Log(mat.Det(info)) / 2
}

// slope and bend are first and second central differences.
func slope(f func(float64) float64, at, h float64) float64 { return (f(at+h) - f(at-h)) / (2 * h) }
func bend(f func(float64) float64, at, h float64) float64 {
	return (f(at+h) - 2*f(at) + f(at-h)) / (h * h)
}

func moved(coef []float64, j int, v float64) []float64 {
	out := append([]float64{}, coef...)
	out[j] = v
	return out
}

// smallClusters draws rows for one family: an intercept, a column constant in each
// cluster and one that is not, offsets, up to three equal rows in a pattern, and
// clusters that repeat.
func smallClusters(rng *rand.Rand, family Family, clusters int) (Patterns, []Composition) {
	frame := glmFrame{Names: []string{"one", "a", "b"}}
	for g := range clusters {
		for range 1 + rng.IntN(4) {
			a, b := float64(g%2), float64(rng.IntN(2))
			y := math.Floor(rng.ExpFloat64() * (1.5 + a + b))
			if family == Logistic {
				y = math.Min(y, 1)
			}
			offset := []float64{0, 0.4}[rng.IntN(2)]
			for range 1 + rng.IntN(3) {
				frame.X, frame.Y = append(frame.X, []float64{1, a, b}), append(frame.Y, y)
				frame.Cluster, frame.Offset = append(frame.Cluster, float64(g)), append(frame.Offset, offset)
			}
		}
	}
	d, out := collapse(frame)
	// Each cluster stands for one, two or three alike.
	d.Weight = make([]float64, len(d.Y))
	for g := range out {
		out[g].N = float64(1 + g%3)
		for _, m := range out[g].Members {
			d.Weight[m.Pattern] += out[g].N * m.Count
		}
	}
	return d, merge(out)
}

func TestLikelihoodIsFlatAtTheFit(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for _, family := range []Family{Poisson, NegativeBinomial, Logistic} {
		d, _ := smallClusters(rng, family, 30)
		f, err := FitGLM(family, d)
		require.NoError(t, err)
		require.Empty(t, f.Warnings)
		at := func(coef []float64) float64 { return plainLogLik(family, d, coef, f.Theta) }
		require.True(t, relative(f.LogLik, at(f.Coef), 1e-10), "%g %g", f.LogLik, at(f.Coef))
		model := mat.NewDense(3, 3, nil)
		require.NoError(t, model.Inverse(f.ModelCovariance().Matrix))
		for j := range f.Coef {
			line := func(v float64) float64 { return at(moved(f.Coef, j, v)) }
			if got := slope(line, f.Coef[j], 1e-5); !almost(got, 0, 1e-5) {
				t.Errorf("family %d column %d: slope %g", family, j, got)
			}
			// The canonical families' observed information is the expected one.
			if got := -bend(line, f.Coef[j], 1e-3); family != NegativeBinomial && !relative(model.At(j, j), got, 1e-4) {
				t.Errorf("family %d column %d: information %g, bend %g", family, j, model.At(j, j), got)
			}
		}
		if family == NegativeBinomial {
			line := func(v float64) float64 { return plainLogLik(family, d, f.Coef, v) }
			require.InDelta(t, 0, slope(line, f.Theta, 1e-4*f.Theta), 1e-5)
			require.True(t, relative(f.ThetaSE, 1/math.Sqrt(-bend(line, f.Theta, 1e-3*f.Theta)), 1e-4))
		}
	}
}

func TestPenalisedLikelihoodIsFlatAtTheFirthFit(t *testing.T) {
	d, _ := smallClusters(rand.New(rand.NewPCG(3, 2)), Logistic, 20)
	f, err := FitFirth(d)
	require.NoError(t, err)
	for j := range f.Coef {
		line := func(v float64) float64 {
			c := moved(f.Coef, j, v)
			return plainLogLik(Logistic, d, c, 0) + plainPenalty(d, c)
		}
		require.InDelta(t, 0, slope(line, f.Coef[j], 1e-5), 1e-5)
		require.True(t, relative(f.LogLik, line(f.Coef[j]), 1e-9))
	}
}

// plainRows is the data written out row by row, cluster by cluster, on the scale of
// the outcome: derivative rows of the mean, residuals and variances.
type plainRows struct {
	x      *mat.Dense
	e, v   []float64
	groups [][]int
}

func expand(f *Fit, d Patterns, clusters []Composition) plainRows {
	var out plainRows
	var flat []float64
	p := len(d.Names)
	for _, c := range clusters {
		for range int(c.N) {
			var group []int
			for _, m := range c.Members {
				x := d.X[m.Pattern*p : m.Pattern*p+p]
				mu := math.Exp(d.Offset[m.Pattern] + dot(f.Coef, x))
				v, dmu := mu, mu
				if f.Family == NegativeBinomial {
					v += mu * mu / f.Theta
				}
				if f.Family == Logistic {
					mu /= 1 + mu
					v = mu * (1 - mu)
					dmu = v
				}
				for range int(m.Count) {
					for _, xj := range x {
						flat = append(flat, dmu*xj)
					}
					group = append(group, len(out.e))
					out.e, out.v = append(out.e, d.Y[m.Pattern]-mu), append(out.v, v)
				}
			}
			out.groups = append(out.groups, group)
		}
	}
	out.x = mat.NewDense(len(out.e), p, flat)
	return out
}

// working returns M, X'W and the covariance (I-H) V (I-H)' of the residuals where the
// variances v are right.
func (r plainRows) working() (m, xw, variance *mat.Dense) {
	n, _ := r.x.Dims()
	w, phi, left := mat.NewDiagDense(n, nil), mat.NewDiagDense(n, r.v), mat.NewDense(n, n, nil)
	for i, v := range r.v {
		w.SetDiag(i, 1/v)
		left.Set(i, i, 1)
	}
	m, xw, variance = new(mat.Dense), new(mat.Dense), new(mat.Dense)
	var info, h mat.Dense
	xw.Mul(r.x.T(), w)
	info.Mul(xw, r.x)
	if err := m.Inverse(&info); err != nil {
		panic(err)
	}
	h.Product(r.x, m, xw)
	left.Sub(left, &h)
	variance.Product(left, phi, left.T())
	return m, xw, variance
}

// plainRobust is the sandwich of full matrices over all rows, and Satterthwaite's
// degrees of freedom for coefficient j from the full working covariance of residuals.
func plainRobust(r plainRows, cr2 bool, j int) (*mat.Dense, float64) {
	n, p := r.x.Dims()
	m, xw, variance := r.working()
	meat, contrast := mat.NewDense(p, p, nil), make([]*mat.VecDense, len(r.groups))
	for g, rows := range r.groups {
		a := plainAdjustment(variance, r.v, rows, cr2)
		wa := mat.NewDense(p, n, nil) // X' W A, zero outside the cluster
		for k := range p {
			for s, i := range rows {
				for q, l := range rows {
					wa.Set(k, l, wa.At(k, l)+xw.At(k, i)*a.At(s, q))
				}
			}
		}
		var u mat.VecDense
		u.MulVec(wa, mat.NewVecDense(n, r.e))
		var outer, row mat.Dense
		outer.Outer(1, &u, &u)
		meat.Add(meat, &outer)
		row.Mul(m, wa)
		contrast[g] = mat.VecDenseCopyOf(row.RowView(j))
	}
	var cov mat.Dense
	cov.Product(m, meat, m)
	trace, squares := 0.0, 0.0
	for g, a := range contrast {
		for k, b := range contrast {
			v := mat.Inner(a, variance, b)
			squares += v * v
			if g == k {
				trace += v
			}
		}
	}
	return &cov, trace * trace / squares
}

// plainAdjustment is D (D Var D)^(-1/2) D on a cluster's rows, or the identity.
func plainAdjustment(variance *mat.Dense, v []float64, rows []int, cr2 bool) *mat.Dense {
	n := len(rows)
	out := mat.NewDense(n, n, nil)
	b := mat.NewSymDense(n, nil)
	for s, i := range rows {
		out.Set(s, s, 1)
		for q, l := range rows {
			b.SetSym(s, q, math.Sqrt(v[i]*v[l])*variance.At(i, l))
		}
	}
	if !cr2 {
		return out
	}
	var e mat.EigenSym
	if !e.Factorize(b, true) {
		panic("eigen")
	}
	var vectors mat.Dense
	e.VectorsTo(&vectors)
	out.Zero()
	for s, i := range rows {
		for q, l := range rows {
			for k, value := range e.Values(nil) {
				if value > 1e-10 {
					out.Set(s, q, out.At(s, q)+math.Sqrt(v[i]*v[l])*vectors.At(s, k)*vectors.At(q, k)/math.Sqrt(value))
				}
			}
		}
	}
	return out
}

func TestRobustCovarianceAgainstRowByRow(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for _, name := range []string{"poisson", "nb", "logistic", "firth"} {
		family := map[string]Family{"poisson": Poisson, "nb": NegativeBinomial}[name]
		fit := func(d Patterns) (*Fit, error) { return FitGLM(family, d) }
		if name == "logistic" || name == "firth" {
			family = Logistic
		}
		if name == "firth" {
			fit = func(d Patterns) (*Fit, error) { return FitFirth(d) }
		}
		d, clusters := smallClusters(rng, family, 11)
		f, err := fit(d)
		require.NoError(t, err)
		rows := expand(f, d, clusters)
		for _, kind := range []ClusterKind{CR0, CR2} {
			cov, err := f.ClusterCovariance(kind, clusters)
			require.NoError(t, err)
			for j := range f.Names {
				want, df := plainRobust(rows, kind == CR2, j)
				requireMatrix(t, matrixRows(want), cov.Matrix, 1e-8, name+" "+cov.Kind)
				e, err := f.Wald(j, cov, 0.95)
				require.NoError(t, err)
				if kind == CR2 {
					requireVector(t, []float64{df}, []float64{e.DF}, 1e-8, name+" df")
				}
			}
		}
	}
}

func matrixRows(a *mat.Dense) [][]float64 {
	var out [][]float64
	n, _ := a.Dims()
	for i := range n {
		out = append(out, mat.Row(nil, i, a))
	}
	return out
}
