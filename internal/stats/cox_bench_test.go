package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// denseCox fills every day and pattern, event or not, with a count.
func denseCox(days, patterns, columns int) (CoxPatterns, []CoxRow) {
	rng := rand.New(rand.NewPCG(3, 65))
	var p CoxPatterns
	for range columns {
		p.Names = append(p.Names, "x")
	}
	rows := make([]CoxRow, 0, 2*days*patterns)
	for j := range patterns {
		eta := 0.0
		for k := range columns {
			x := float64(rng.IntN(2))
			p.X = append(p.X, x)
			eta += x * 0.1 * float64(k%3-1)
		}
		for day := range days {
			events := float64(poissonCount(rng, 0.5*math.Exp(eta)))
			rows = append(rows, CoxRow{Pattern: j, Time: float64(day), Event: true, Count: events},
				CoxRow{Pattern: j, Time: float64(day), Count: float64(1 + rng.IntN(5))})
		}
	}
	return p, rows
}

func poissonCount(rng *rand.Rand, mean float64) int {
	n, left := 0, rng.ExpFloat64()
	for left < mean {
		n++
		left += rng.ExpFloat64()
	}
	return n
}

func BenchmarkCox365x2000x10(b *testing.B) { benchmarkCox(b, 10, CoxOptions{}) }
func BenchmarkCox365x2000x20(b *testing.B) { benchmarkCox(b, 20, CoxOptions{}) }

// Half of all rows enter late, each at a day of its own.
func BenchmarkCoxLate365x2000x20(b *testing.B) {
	benchmarkCox(b, 20, CoxOptions{LeftTruncated: true})
}

func benchmarkCox(b *testing.B, columns int, opt CoxOptions) {
	p, rows := denseCox(365, 2000, columns)
	for i := range rows {
		rows[i].Entry = rows[i].Time - 1 - float64(i%2)*float64(i%100)
	}
	b.ReportMetric(float64(len(rows)), "rows")
	for b.Loop() {
		if _, err := FitCox(p, rows, opt); err != nil {
			b.Fatal(err)
		}
	}
}
