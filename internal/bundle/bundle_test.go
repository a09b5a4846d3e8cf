package bundle

import (
	"bytes"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestContractIsWhole(t *testing.T) {
	wantColumns := map[string]int{"cases": 15, "dentures": 6, "records": 12, "readings": 5, "trays": 12, "visits": 9, "sore_spots": 5, "remakes": 5}
	require.Len(t, Tables, len(wantColumns))
	seen := []string{}
	for _, tb := range Tables {
		assert.Len(t, tb.Columns, wantColumns[tb.Name], tb.Name)
		if tb.Parent != "" {
			assert.Contains(t, seen, tb.Parent, "%s comes before its parent", tb.Name)
			_, ok := tb.Column(tb.ParentBy)
			assert.True(t, ok, tb.Name)
		}
		for _, k := range tb.Key {
			_, ok := tb.Column(k)
			assert.True(t, ok, "%s.%s", tb.Name, k)
		}
		for _, c := range tb.Columns {
			coded := c.Kind == Code || c.Kind == Codes || c.Kind == AgeBand
			assert.Equal(t, coded, len(c.Codes) > 0, "%s.%s", tb.Name, c.Name)
			assert.NotEmpty(t, c.Meaning, "%s.%s", tb.Name, c.Name)
			if c.Soft != nil {
				require.NotNil(t, c.Hard, "%s.%s", tb.Name, c.Name)
				assert.True(t, c.Hard.Min <= c.Soft.Min && c.Soft.Max <= c.Hard.Max, "%s.%s: the soft range leaves the hard one", tb.Name, c.Name)
			}
		}
		seen = append(seen, tb.Name)
	}
}

func TestBand(t *testing.T) {
	for age, want := range map[int]string{-1: "", 0: "<50", 49: "<50", 50: "50-59", 59: "50-59", 60: "60-69", 69: "60-69", 70: "70-79", 79: "70-79", 80: "80-89", 89: "80-89", 90: "90+", 130: "90+", 131: ""} {
		assert.Equal(t, want, Band(age), "age %d", age)
	}
}

func TestZonesBelongToTheirArch(t *testing.T) {
	assert.Len(t, Zones("upper"), 13)
	assert.Len(t, Zones("lower"), 17)
	assert.Nil(t, Zones("both"))
	assert.False(t, slices.Contains(Zones("upper"), "torus"))
	z := Zones("upper")
	z[0] = "changed"
	assert.Equal(t, "labial_sulcus", Zones("upper")[0], "a caller can change the contract")
}

func TestDescribeNamesEveryColumn(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Describe(&b))
	for _, tb := range Tables {
		assert.Contains(t, b.String(), tb.Name+".csv")
		for _, c := range tb.Columns {
			assert.Contains(t, b.String(), "  "+c.Name)
		}
	}
	assert.Contains(t, b.String(), "30 to 110; flagged outside 45 to 90")
}
