package stats

import (
	"math"
	"testing"
)

// almost reports whether got agrees with want within tol, relative to want where
// |want| > 1 and absolute below that. It is NaN-safe: NaN agrees only with NaN,
// and an infinity only with itself.
func almost(got, want, tol float64) bool {
	switch {
	case math.IsNaN(want):
		return math.IsNaN(got)
	case math.IsInf(want, 0):
		return got == want
	case math.IsNaN(got) || math.IsInf(got, 0):
		return false
	}
	return math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))
}

// relative is almost with a purely relative tolerance, for values far below 1.
func relative(got, want, tol float64) bool {
	if want == 0 || math.IsNaN(want) || math.IsInf(want, 0) {
		return almost(got, want, tol)
	}
	return math.Abs(got-want) <= tol*math.Abs(want)
}

func TestAlmostIsNaNSafe(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		got, want float64
		ok        bool
	}{{1, 1, true}, {1 + 1e-9, 1, true}, {1 + 1e-7, 1, false}, {nan, 1, false}, {1, nan, false}, {nan, nan, true}, {inf, inf, true}, {inf, -inf, false}, {1e9, inf, false}} {
		if almost(c.got, c.want, 1e-8) != c.ok {
			t.Errorf("almost(%g, %g) is not %v", c.got, c.want, c.ok)
		}
	}
	if relative(1.1e-12, 1e-12, 1e-3) || !relative(1e-12*(1+1e-10), 1e-12, 1e-8) {
		t.Error("relative does not compare relatively")
	}
}
