package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// aliasTolerance is the share of a column's norm that must remain after the
// columns before it are taken out; the same figure as in the QR of R's lm.
const aliasTolerance = 1e-7

// basis is a design in weighted-orthonormal coordinates: X[kept] = Q R with
// Q'diag(w)Q = I. Fitting in Q keeps badly scaled and nearly collinear designs
// accurate, because the normal equations square no condition number.
type basis struct {
	q       []float64 // row-major, rows x len(kept)
	rinv    *mat.Dense
	kept    []int
	aliased []int
}

// newBasis orthogonalises the columns of the row-major x in their given order by
// Gram-Schmidt, twice (the second pass restores orthogonality), and sets a column
// aside when it is a combination of those before it.
func newBasis(x []float64, w []float64, p int) basis {
	n, roots := len(w), make([]float64, len(w))
	for i, v := range w {
		roots[i] = math.Sqrt(v)
	}
	var b basis
	var cols [][]float64
	var rcols [][]float64
	for j, col := range weightedColumns(x, roots, p) {
		scale := math.Sqrt(dot(col, col))
		r := make([]float64, len(cols)+1)
		takeOut(col, slices.Concat(cols, cols), func(k int, d float64) { r[k%max(1, len(cols))] += d })
		norm := math.Sqrt(dot(col, col))
		if scale == 0 || norm <= aliasTolerance*scale {
			b.aliased = append(b.aliased, j)
			continue
		}
		r[len(cols)] = norm
		for i := range col {
			col[i] /= norm
		}
		cols, rcols, b.kept = append(cols, col), append(rcols, r), append(b.kept, j)
	}
	m := len(cols)
	b.rinv = invertUpper(rcols)
	b.q = make([]float64, n*m)
	for i, root := range roots {
		if root > 0 {
			for k, c := range cols {
				b.q[i*m+k] = c[i] / root
			}
		}
	}
	return b
}

// takeOut takes the shares of columns q out of col, one after the other, and tells of each.
// A share is taken out and the next one measured in one walk along the rows.
func takeOut(col []float64, q [][]float64, share func(k int, d float64)) {
	if len(q) == 0 {
		return
	}
	d := dot(q[0], col)
	for k, out := range q {
		share(k, d)
		out = out[:len(col)]
		if k == len(q)-1 {
			for i, v := range out {
				col[i] -= d * v
			}
			return
		}
		next, sum := q[k+1][:len(col)], 0.0
		for i, v := range out {
			c := col[i] - d*v
			col[i] = c
			sum += next[i] * c
		}
		d = sum
	}
}

// weightedColumns are the columns of x times the roots of the weights. All are made in one
// walk along the rows: one for each would read every row again.
func weightedColumns(x, roots []float64, p int) [][]float64 {
	cols := make([][]float64, p)
	for j := range cols {
		cols[j] = make([]float64, len(roots))
	}
	for i, root := range roots {
		for j, v := range x[i*p : i*p+p] {
			cols[j][i] = root * v
		}
	}
	return cols
}

// invertUpper inverts the upper triangle whose k-th column is cols[k].
func invertUpper(cols [][]float64) *mat.Dense {
	m := len(cols)
	if m == 0 {
		return nil
	}
	inv := mat.NewDense(m, m, nil)
	for j := range m {
		inv.Set(j, j, 1/cols[j][j])
		for i := range j {
			s := 0.0
			for k := i; k < j; k++ {
				s += inv.At(i, k) * cols[j][k]
			}
			inv.Set(i, j, -s/cols[j][j])
		}
	}
	return inv
}

// markAlong marks the kept columns that have a share in a direction of the basis.
func (b basis) markAlong(along []bool, direction mat.Vector) {
	var d mat.VecDense
	d.MulVec(b.rinv, direction)
	share, top := make([]float64, len(along)), 0.0
	for k := range along {
		// In units of the column's own spread, so that its unit does not decide.
		share[k] = math.Abs(d.AtVec(k) / b.rinv.At(k, k))
		top = math.Max(top, share[k])
	}
	for k := range along {
		along[k] = along[k] || share[k] > 1e-3*top
	}
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// crossWeighted is Q' diag(v) Q for the row-major q with m columns. It takes three rows at
// a time, which spares most reads and writes of the sums; they are added one after the
// other, in the order of the rows.
func crossWeighted(q, v []float64, m int) *mat.SymDense {
	a := make([]float64, m*m)
	var rows [3][]float64
	var weights [3]float64
	held := 0
	for i, vi := range v {
		if vi == 0 {
			continue
		}
		rows[held], weights[held] = q[i*m:i*m+m], vi
		if held++; held == len(rows) {
			addThree(a, rows, weights)
			held = 0
		}
	}
	for i := range held {
		for j, qj := range rows[i] {
			addScaled(a[j*m+j:j*m+m], weights[i]*qj, rows[i][j:])
		}
	}
	return mat.NewSymDense(m, a)
}

// addThree adds the weighted squares of three rows to the upper triangle of a.
func addThree(a []float64, rows [3][]float64, weights [3]float64) {
	m := len(rows[0])
	for j := range m {
		r, s, t := rows[0][j:m], rows[1][j:m], rows[2][j:m]
		f, g, h := weights[0]*r[0], weights[1]*s[0], weights[2]*t[0]
		out := a[j*m+j : j*m+m]
		s, t = s[:len(out)], t[:len(out)]
		for k, x := range r[:len(out)] {
			sum := out[k] + f*x
			sum += g * s[k]
			out[k] = sum + h*t[k]
		}
	}
}

// inverseSym inverts a positive definite matrix; ok is false where it is not one.
func inverseSym(a *mat.SymDense) (inv *mat.SymDense, ok bool) {
	var c mat.Cholesky
	if !c.Factorize(a) {
		return nil, false
	}
	inv = mat.NewSymDense(a.SymmetricDim(), nil)
	// A Condition error still fills inv; the caller judges near-singularity itself.
	_ = c.InverseTo(inv)
	return inv, true
}

// informationFloor is the share of the mean eigenvalue below which a direction of an
// information matrix is taken to be empty.
const informationFloor = 1e-10

// inverseInformation is inverseSym, or where separation has emptied a direction so
// far that rounding would decide it, the inverse over the other directions: a step
// along the empty one would raise the likelihood by nothing, for ever.
func inverseInformation(a *mat.SymDense) (inv *mat.SymDense, ok bool) {
	var c mat.Cholesky
	if c.Factorize(a) && c.Cond() < 1/informationFloor {
		return inverseSym(a)
	}
	n := a.SymmetricDim()
	level := mat.Trace(a) / float64(n)
	var e mat.EigenSym
	if !(level > 0) || math.IsInf(level, 1) || math.IsNaN(mat.Sum(a)) || !e.Factorize(a, true) {
		return nil, false
	}
	var vectors mat.Dense
	e.VectorsTo(&vectors)
	inv = mat.NewSymDense(n, nil)
	for k, v := range e.Values(nil) {
		if v > math.Abs(v) {
			inv.SymRankOne(inv, 1/v, vectors.ColView(k))
		}
	}
	return inv, true
}
