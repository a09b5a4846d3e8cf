package review

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// misread is a service in which events grow by the factor exp(slope) with each mm of a
// true value, and the value is read with error. Clinicians differ in their mean value and
// in their events, the more the one the more the other, so that a fit that does not
// compare within clinicians finds too much. Values are read to a tenth of a millimetre.
type misread struct {
	clinicians, each int
	slope, spread    float64 // SD of the true value within a clinician, mm
	errorSD          float64
}

func (m misread) draw(rng *rand.Rand) *doseFit {
	f := &doseFit{level: 0.95, bands: 1, knots: []float64{1, 3, 5}}
	for i := range int64(200) {
		f.values = append(f.values, doseCount{e2: 10*i - 500, known: true})
	}
	for c := range m.clinicians {
		shift := 2 * (float64(c)/float64(m.clinicians-1) - 0.5)
		for range m.each {
			truth := 3 + shift + m.spread*rng.NormFloat64()
			mean := 1.5 * math.Exp(m.slope*(truth-3)+0.5*shift)
			read := truth + m.errorSD*rng.NormFloat64()
			at := min(max(int(math.Round(10*read))+50, 0), 199)
			f.cells = append(f.cells, doseCell{cell: c, value: at, n: 1, y: int64(distuv.Poisson{Lambda: mean, Src: rng}.Rand()), share: 1e9})
			f.values[at].n++
		}
	}
	return f
}

// fitted fits the straight line and corrects it with the error as planted, known from
// as many repeats as there are dentures.
func (m misread) fitted(t *testing.T, rng *rand.Rand) (*doseFit, Dose) {
	t.Helper()
	f := m.draw(rng)
	settled, err := f.fit()
	require.NoError(t, err)
	require.True(t, settled)
	var d Dose
	f.slope(&d)
	v := m.errorSD*m.errorSD + 0.01/12 // and what rounding to a tenth adds
	require.NoError(t, f.correct(&d, Reading{}, v, 2*v*v/float64(m.clinicians*m.each)))
	return f, d
}

// TestErrorOfReadingThinsTheSlope: with true values of SD 1 within clinicians and an error
// of SD 0.7 the slope as read is the true one times 1/(1+0.49), and correcting brings it
// back. Limits are 4 standard errors wide, so that a right program fails once in 16,000.
func TestErrorOfReadingThinsTheSlope(t *testing.T) {
	m := misread{clinicians: 20, each: 1500, slope: 0.25, spread: 1, errorSD: 0.7}
	f, d := m.fitted(t, rand.New(rand.NewPCG(7, 1)))
	se := math.Sqrt(f.lineVariance())
	thinned := m.slope / (1 + m.errorSD*m.errorSD)
	assert.InDelta(t, thinned, math.Log(float64(d.Slope.Value)), 4*se)
	assert.InDelta(t, m.slope, math.Log(float64(d.Corrected.Value)), 4*se*(1+m.errorSD*m.errorSD))
	assert.InDelta(t, 1/(1+m.errorSD*m.errorSD), float64(d.Reading.Reliability.Value), 0.02)
	assert.Greater(t, m.slope-thinned, 8*se, "the check could not tell the two apart")
	assert.Less(t, float64(d.Slope.High), math.Exp(m.slope))
}
