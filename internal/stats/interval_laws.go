package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// TwoSidedZ is the standard normal quantile of a two-sided interval at level, which
// is in (0,1): 1.96 for 0.95. Any other level gives NaN.
func TwoSidedZ(level float64) float64 {
	if checkLevel(level) != nil {
		return math.NaN()
	}
	return intervalZ(level)
}

// intervalZ is the standard normal quantile for a two-sided level in (0,1).
func intervalZ(level float64) float64 {
	return -distuv.UnitNormal.Quantile((1 - level) / 2)
}

// checkLevel refuses a confidence level outside (0,1), NaN included.
func checkLevel(level float64) error {
	if !(level > 0 && level < 1) {
		return fmt.Errorf("level %v is not between 0 and 1: %w", level, ErrBadInput)
	}
	return nil
}

// checkPositive refuses a parameter that is not finite and above zero, or so large
// that the tail expansions would not end.
func checkPositive(name string, v float64) error {
	if !(v > 0 && v <= maxTailParameter) {
		return fmt.Errorf("%s %v is not above 0 and at most %g: %w", name, v, maxTailParameter, ErrBadInput)
	}
	return nil
}

func checkProbability(name string, p float64) error {
	if !(p >= 0 && p <= 1) {
		return fmt.Errorf("%s %v is not between 0 and 1: %w", name, p, ErrBadInput)
	}
	return nil
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// GammaCDF returns both tails of a gamma law with the given shape and rate 1 at x:
// P(X <= x) and P(X > x). The shape is in (0, 1e10], x any number but NaN.
func GammaCDF(x, shape float64) (lower, upper float64, err error) {
	if math.IsNaN(x) {
		return 0, 0, fmt.Errorf("x is not a number: %w", ErrBadInput)
	}
	if err := checkPositive("shape", shape); err != nil {
		return 0, 0, err
	}
	lower, upper = gammaTails(shape, x)
	return lower, upper, nil
}

// GammaQuantile returns x with P(X <= x) = p for a gamma law of that shape and
// rate 1, or P(X > x) = p when upper is set; p in [0,1]. Asking for a small upper
// tail as such keeps the digits that 1-p would lose.
func GammaQuantile(p, shape float64, upper bool) (float64, error) {
	if err := firstError(checkProbability("p", p), checkPositive("shape", shape)); err != nil {
		return 0, err
	}
	if p == 0 || p == 1 {
		if (p == 1) != upper {
			return math.Inf(1), nil
		}
		return 0, nil
	}
	return gammaQuantile(p, shape, upper), nil
}

// gammaQuantile is GammaQuantile for arguments known to be good, 0 < p < 1.
func gammaQuantile(p, shape float64, upper bool) float64 {
	tail := func(x float64) float64 { return pickTail(upper)(gammaTails(shape, x)) }
	density := func(x float64) float64 {
		return shape / x * math.Exp(-stirlingError(shape)-poissonDeviance(shape, x)) / math.Sqrt(2*math.Pi*shape)
	}
	return invertTail(tail, density, p, shape, shape+math.Sqrt(2800*shape)+1500, upper)
}

func pickTail(upper bool) func(lo, up float64) float64 {
	if upper {
		return func(_, up float64) float64 { return up }
	}
	return func(lo, _ float64) float64 { return lo }
}

// ChiSquareCDF returns both tails of the chi-square law with df > 0 degrees of
// freedom at x; the upper one is the p-value of a test.
func ChiSquareCDF(x, df float64) (lower, upper float64, err error) {
	return GammaCDF(x/2, df/2)
}

// BetaCDF returns both tails of a beta law at x in [0,1]; a and b in (0, 1e10].
func BetaCDF(x, a, b float64) (lower, upper float64, err error) {
	if err := firstError(checkProbability("x", x), checkPositive("a", a), checkPositive("b", b)); err != nil {
		return 0, 0, err
	}
	lower, upper = betaTails(x, 1-x, a, b)
	return lower, upper, nil
}

// BetaQuantile returns x with P(X <= x) = p for a beta law, or P(X > x) = p when
// upper is set; p in [0,1], a and b in (0, 1e10].
func BetaQuantile(p, a, b float64, upper bool) (float64, error) {
	if err := firstError(checkProbability("p", p), checkPositive("a", a), checkPositive("b", b)); err != nil {
		return 0, err
	}
	if p == 0 || p == 1 {
		if (p == 1) != upper {
			return 1, nil
		}
		return 0, nil
	}
	return betaQuantile(p, a, b, upper), nil
}

// betaQuantile is BetaQuantile for arguments known to be good, 0 < p < 1.
func betaQuantile(p, a, b float64, upper bool) float64 {
	tail := func(x float64) float64 { return pickTail(upper)(betaTails(x, 1-x, a, b)) }
	density := func(x float64) float64 {
		if x >= 1 {
			return 0
		}
		return betaLead(x, 1-x, a, b) * a * b / (a + b) / (x * (1 - x))
	}
	return invertTail(tail, density, p, a/(a+b), 1, upper)
}

// NormalTails returns both tails of the standard normal law at z, each accurate
// relatively (gonum's Survival is not in the far tail).
func NormalTails(z float64) (lower, upper float64) {
	return math.Erfc(-z/math.Sqrt2) / 2, math.Erfc(z/math.Sqrt2) / 2
}
