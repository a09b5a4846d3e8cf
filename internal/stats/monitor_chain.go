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

// row is one point's chances to go to 0, to the last point, and to those between, from 1.
func (c chain) row(from int) (zero, last float64, between []float64) {
	for _, p := range c.to[:c.last-from+1] {
		zero += p
	}
	if at := 2*c.last - 1 - from; at >= 0 {
		last = c.edge[at]
	}
	return zero, last, c.to[c.last+1-from : 2*c.last-from]
}

// length is the mean number of steps from 0 until the walk leaves. The points between the
// edges are solved for by Levinson's recursion (Golub & Van Loan 2013, Matrix
// Computations, 4.7.4, for a matrix that is not symmetric), which takes n^2 steps in place
// of n^3, as a constant and a part for the value at each edge. All its terms but one are
// sums of what is not negative, so that little is lost to rounding.
func (c chain) length() float64 {
	n := c.last - 1
	one, zero, last := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		one[i] = 1
		zero[i], last[i], _ = c.row(i + 1)
	}
	solved := c.between(n, one, zero, last)
	// The equations of the two edges, with the points between put in.
	zero0, last0, row0 := c.row(0)
	zeroN, lastN, rowN := c.row(c.last)
	zero0, last0, zeroN, lastN = zero0+dot(row0, solved[1]), last0+dot(row0, solved[2]), zeroN+dot(rowN, solved[1]), lastN+dot(rowN, solved[2])
	atLast := 1 / (1 - lastN)
	return (1 + dot(row0, solved[0]) + last0*atLast*(1+dot(rowN, solved[0]))) / (1 - zero0 - last0*atLast*zeroN)
}

// between solves, for each right side, the walk among the n points between the edges.
func (c chain) between(n int, right ...[]float64) [][]float64 {
	down := make([]float64, n) // chances of a step by -1, -2 ..
	for i := 1; i < n; i++ {
		down[i-1] = c.to[c.last-i]
	}
	up, self := c.to[c.last+1:], 1-c.to[c.last]
	first, final := make([]float64, n), make([]float64, n) // solve for 1 at the first and at the last point
	first[0], final[0] = 1/self, 1/self
	out := make([][]float64, len(right))
	for r := range right {
		out[r] = make([]float64, n)
		out[r][0] = right[r][0] / self
	}
	before := make([]float64, n)
	for k := 1; k < n; k++ {
		back, ahead := 0.0, 0.0 // what the vectors so far bring to the new last and first point
		for j := range k {
			back += down[k-1-j] * first[j]
			ahead += up[j] * final[j]
		}
		scale := 1 / (1 - back*ahead)
		copy(before[1:k+1], final[:k])
		before[0] = 0
		for j := range k + 1 {
			f, g := first[j], before[j]
			first[j], final[j] = scale*(f+back*g), scale*(g+ahead*f)
		}
		for r, x := range out {
			sum := right[r][k]
			for j := range k {
				sum += down[k-1-j] * x[j]
			}
			for j := range k + 1 {
				x[j] += sum * final[j]
			}
		}
	}
	return out
}
