package stats

import "fmt"

// The intervals of this package that are plain Interval values have their cautions here,
// by the counts that they rest on. Shares are coverage at a nominal 95 %, by exact sums
// (tests Coverage... behind the coverage tag).

// Counts below which a caution is given, chosen so that outside it coverage is 93-97 %.
const (
	fewWilson, fewWilsonTrials = 10, 30
	fewExact, fewExactTrials   = 25, 100
	fewNewcombe                = 5
	fewRatioEvents             = 12
)

func fewEventsWarning(when bool, format string, args ...any) []Warning {
	if !when {
		return nil
	}
	return []Warning{{"few-events", fmt.Sprintf(format, args...)}}
}

// WilsonWarnings is the caution that belongs to Wilson at k of n: with fewer than 10
// events or non-events, or fewer than 30 trials, coverage swings between 90 % (where
// about half an event is expected) and 98 %.
func WilsonWarnings(k, n int64) []Warning {
	least := max(0, min(k, n-k))
	return fewEventsWarning(least < fewWilson || n < fewWilsonTrials,
		"Only %d events or non-events among %d: limits may be somewhat narrower or wider than their level says; %d or more among %d or more would mend it.", least, n, fewWilson, fewWilsonTrials)
}

// ClopperPearsonWarnings is the caution that belongs to ClopperPearson at k of n: with
// fewer than 25 events or non-events, or fewer than 100 trials, coverage is up to 98 %,
// and above that below 4.
func ClopperPearsonWarnings(k, n int64) []Warning {
	least := max(0, min(k, n-k))
	return fewEventsWarning(least < fewExact || n < fewExactTrials,
		"Only %d events or non-events among %d: exact limits are wider than their level says; they come close to it from %d among %d on.", least, n, fewExact, fewExactTrials)
}

// PoissonExactWarnings is the caution that belongs to PoissonExact, and to what rests on
// it, at k events: below 25 coverage is up to 98 %, and above that below 6.
func PoissonExactWarnings(k int64) []Warning {
	return fewEventsWarning(k < fewExact,
		"Only %d events: exact limits are wider than their level says; they come close to it from %d on.", k, fewExact)
}

// RateRatioWarnings is the caution that belongs to RateRatioExact at these counts: with
// fewer than 12 events in a group coverage is above 97 % (97.1 % with 10 and 10 events
// expected, 99.9 % with 1 and 1).
func RateRatioWarnings(k1, k2 int64) []Warning {
	least := min(k1, k2)
	return fewEventsWarning(least < fewRatioEvents,
		"Only %d events in a group: exact limits are wider than their level says; they come close to it from %d on.", least, fewRatioEvents)
}

// NewcombeWarnings is the caution that belongs to Newcombe at these counts: with fewer
// than 5 events or non-events in a group coverage may be above 97 % (99.8 % with 1 event
// expected in each of two groups of 50).
func NewcombeWarnings(k1, n1, k2, n2 int64) []Warning {
	least := max(0, min(k1, n1-k1, k2, n2-k2))
	return fewEventsWarning(least < fewNewcombe,
		"Only %d events, or non-events, in a group: limits may be wider than their level says; %d or more would mend it.", least, fewNewcombe)
}
