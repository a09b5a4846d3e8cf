package stats

import "math"

// chain is a CUSUM between 0 and its limit as a walk on the points 0 .. last, each step
// of which is shared between the two nearest points. How far a step goes does not depend
// on where it starts, so that the matrix of the walk is the same along its diagonals,
// but for its edges: what falls below 0 stays at 0, and what reaches the limit has left.
type chain struct {
	last int
	to   []float64 // chance of a step by -last .. last points
	edge []float64 // likewise, of the part that is shared to the upper point
}

// newChain lays the law on cells between 0 and the limit.
func newChain(law ScoreLaw, limit float64, cells int) chain {
	c := chain{last: cells, to: make([]float64, 2*cells+1), edge: make([]float64, 2*cells+1)}
	for i, s := range law.score {
		by := s / limit * float64(cells)
		down := math.Floor(by)
		if down+1-by <= float64(cells)*cusumRounding {
			by, down = down+1, down+1
		}
		switch p, share := law.prob[i], by-down; {
		case down < float64(-cells): // to 0 from anywhere
			c.to[0] += p
		case down < float64(cells):
			at := int(down) + cells
			c.to[at] += p * (1 - share)
			c.to[at+1] += p * share
			c.edge[at] += p * share
		}
	}
	return c
}

// length is the mean number of steps from 0 until the walk leaves: that of a walk which
// starts at an edge until it next stands at an edge or leaves, and how it gets from edge
// to edge. Its mean numbers of visits to the points between, turned round, are the
// predictors of Levinson's recursion one order on: the first row of the inverse of a
// matrix that is the same along its diagonals is its last column turned round. All terms
// but two, the chances to go on, are sums of what is not negative, so that little is
// lost to rounding.
func (c chain) length() float64 {
	fromLast, fromZero := c.predictors()
	var steps0, zero0, last0, stepsN, zeroN, lastN, toZero float64
	for j, f := range fromLast {
		g := fromZero[j]
		toZero += c.to[j]
		stepsN, zeroN, lastN = stepsN+f, zeroN+f*toZero, lastN+f*c.edge[c.last-1+j]
		steps0, zero0, last0 = steps0+g, zero0+g*(toZero+c.to[j+1]), last0+g*c.edge[c.last+j]
	}
	atLast := last0 / (1 - lastN)
	return (steps0 + atLast*stepsN) / (1 - zero0 - atLast*zeroN)
}

// predictors are the solutions, up to a factor, of the walk among as many points as there
// are between the edges and one more, for 1 at the first point and for 1 at the last, by
// Levinson's recursion (Golub & Van Loan 2013, Matrix Computations, 4.7.4, for a matrix
// that is not symmetric), which takes n^2 steps in place of n^3. Each begins, or ends,
// with 1.
func (c chain) predictors() (first, final []float64) {
	n := c.last
	first = make([]float64, n)
	held := make([]float64, 2*n) // final begins one place further down with each order
	first[0], held[n] = 1, 1
	left := 1 - c.to[n]                 // what stands at the first point, or at the last, instead of 1
	back, ahead := c.to[n-1], c.to[n+1] // what the vectors so far bring to the new last and first point
	for k := 1; k < n; k++ {
		b, a := back/left, ahead/left
		left -= back * a
		f, g := first[:k+1], held[n-k:n+1]
		down, up := c.to[n-1-k:][:k+1], c.to[n+1:][:k+1]
		g = g[:len(f)]
		down, up = down[:len(f)], up[:len(f)]
		back, ahead = 0, 0
		for j, x := range f {
			y := g[j]
			x, y = x+b*y, y+a*x
			f[j], g[j] = x, y
			back += down[j] * x
			ahead += up[j] * y
		}
	}
	return first, held[1 : n+1]
}
