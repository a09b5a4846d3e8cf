package stats

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// referenceFolder holds the R scripts and what they printed.
const referenceFolder = "../../testdata/reference"

// loadReference reads the stored output of one R script.
func loadReference(t *testing.T, name string, into any) {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(referenceFolder, name+".json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(raw, into))
}

// columns is a data frame of numbers by column.
type columns map[string][]float64

// rows calls check once a row with a getter; a frame without rows fails.
func (c columns) rows(t *testing.T, check func(i int, at func(string) float64)) {
	t.Helper()
	n := -1
	for _, v := range c {
		n = max(n, len(v))
	}
	require.Positive(t, n, "reference table is empty")
	for i := range n {
		check(i, func(name string) float64 {
			require.Len(t, c[name], n, name)
			return c[name][i]
		})
	}
}

// intervalReference is what interval.R prints.
type intervalReference struct {
	Wilson, Clopper, Difference, Rate, Ratio columns
	Gamma, Beta, Poisson, Binomial           columns
	NegBinomial, Quantile7                   columns
	RateEpitools                             [][]float64 `json:"rate_epitools"`
	Values                                   []float64
}

func sameInterval(t *testing.T, want, got Interval, tol float64, about string) {
	t.Helper()
	if !relative(got.Low, want.Low, tol) || !relative(got.High, want.High, tol) {
		t.Errorf("%s: got %.12g to %.12g, want %.12g to %.12g", about, got.Low, got.High, want.Low, want.High)
	}
}
