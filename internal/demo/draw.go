package demo

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"

	"afterfit/internal/bundle"
)

// dice draws every random number of a patient from a generator that is seeded with
// the patient's own number, so that a patient is the same whatever the total.
type dice struct {
	*stream
	*rand.Rand
}

func newDice() dice {
	s := &stream{}
	return dice{s, rand.New(s)}
}

// stream gives the numbers of rand.PCG (PCG-DXSM: O'Neill 2014, HMC-CS-2014-0905, with
// the constants of math/rand/v2) at less cost: it is asked some two hundred times a
// case. A test holds it to rand.PCG.
type stream struct{ hi, lo uint64 }

// seed starts the stream as rand.PCG.Seed does.
func (s *stream) seed(a, b uint64) { s.hi, s.lo = a, b }

// Uint64 gives the next number.
func (s *stream) Uint64() uint64 {
	const mulHi, mulLo, incHi, incLo, cheapMul = 2549297995355413924, 4865540595714422341, 6364136223846793005, 1442695040888963407, 0xda942042e4dd58b5
	hi, lo := bits.Mul64(s.lo, mulLo)
	hi += s.hi*mulLo + s.lo*mulHi
	lo, carry := bits.Add64(lo, incLo, 0)
	hi, _ = bits.Add64(hi, incHi, carry)
	s.hi, s.lo = hi, lo
	hi ^= hi >> 32
	hi *= cheapMul
	hi ^= hi >> 48
	return hi * (lo | 1)
}

// Float64 gives what rand.Rand's method of that name gives, without the way through an
// interface.
func (d dice) Float64() float64 { return float64(d.stream.Uint64()<<11>>11) / (1 << 53) }

// chance is true with probability p.
func (d dice) chance(p float64) bool { return d.Float64() < p }

// between gives a whole number from lo to hi, both included.
func (d dice) between(lo, hi int) int { return lo + d.IntN(hi-lo+1) }

// normal gives a normal value.
func (d dice) normal(mean, sd float64) float64 { return mean + sd*d.NormFloat64() }

// poisson counts by multiplying uniforms (Knuth's method), fit for the means below
// about 20 that occur here; a mean of zero or less gives 0.
func (d dice) poisson(mean float64) int {
	if mean <= 0 {
		return 0
	}
	limit, product, n := math.Exp(-mean), d.Float64(), 0
	for product > limit && n < 60 {
		product *= d.Float64()
		n++
	}
	return n
}

// gamma gives a gamma value with the given shape and mean 1 by Marsaglia and Tsang's
// method (ACM TOMS 2000;26:363-72), from memory; shapes below 1 go through shape + 1.
func (d dice) gamma(shape float64) float64 {
	boost, k := 1.0, shape
	if k < 1 {
		boost, k = math.Pow(1-d.Float64(), 1/k), k+1
	}
	a := k - 1.0/3
	c := 1 / math.Sqrt(9*a)
	for {
		x := d.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v = v * v * v
		if math.Log(1-d.Float64()) < 0.5*x*x+a-a*v+a*math.Log(v) {
			return boost * a * v / shape
		}
	}
}

// mix holds cumulative weights for a choice.
type mix []float64

func newMix(weights []float64) mix {
	m, total, sum := make(mix, len(weights)), 0.0, 0.0
	for _, w := range weights {
		total += w
	}
	for i, w := range weights {
		sum += w
		m[i] = sum / total
	}
	return m
}

// pick gives an index with the mix's probabilities.
func (d dice) pick(m mix) int {
	u := d.Float64()
	for i, c := range m {
		if u < c {
			return i
		}
	}
	return len(m) - 1
}

// codeMix chooses among the codes of a column.
type codeMix struct {
	codes []string
	mix   mix
}

// mixOf gives weights to the codes of a column in the order of the contract; codes
// beyond the weights given are never drawn.
func mixOf(table, column string, weights ...float64) codeMix {
	codes := codesOf(table, column)
	return codeMix{codes[:len(weights)], newMix(weights)}
}

// codesOf lists a column's codes in the order of the contract.
func codesOf(table, column string) []string {
	t, _ := bundle.Find(table)
	c, _ := t.Column(column)
	return slices.Clone(c.Codes)
}

func (d dice) code(m codeMix) string { return m.codes[d.pick(m.mix)] }

// unless gives the value, or an empty one with probability gap.
func (d dice) unless(gap float64, value string) string {
	if d.chance(gap) {
		return ""
	}
	return value
}

// yes gives the code "yes" with probability p, else "no".
func (d dice) yes(p float64) string {
	if d.chance(p) {
		return "yes"
	}
	return "no"
}

// tenths is a length in tenths of a millimetre; missing means not recorded.
type tenths int

const missing = math.MinInt32

// toStep rounds millimetres to the nearest step, both results in tenths.
func toStep(mm float64, step int) tenths {
	return tenths(int(math.Round(mm*10/float64(step))) * step)
}

// within keeps x inside lo to hi.
func within(x, lo, hi float64) float64 { return math.Min(math.Max(x, lo), hi) }
