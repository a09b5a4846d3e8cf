package chart

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
)

var hostile = `</script><b>&"'` + "\u202e"

// wellFormed reads an SVG to its end, so that a name that broke out would show.
func wellFormed(t *testing.T, svg string) []string {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	var tags []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return tags
		}
		require.NoError(t, err)
		if s, ok := token.(xml.StartElement); ok {
			tags = append(tags, s.Name.Local)
		}
	}
}

func TestRowsAreDataOnly(t *testing.T) {
	c, err := Rows([]Row{{Name: hostile, Value: 3, Low: 1, High: 5, Text: hostile, Kind: Beyond}, {Name: "none", Value: math.NaN(), Low: math.NaN(), High: math.NaN()}}, "unit", &Rule{2, hostile}, hostile)
	require.NoError(t, err)
	assert.NotContains(t, string(c.Options), "<")
	assert.NotContains(t, string(c.Options), "__f__")
	var o struct {
		Series []struct {
			RenderItem string
			Data       []struct{ Value []any }
		}
	}
	require.NoError(t, json.Unmarshal(c.Options, &o))
	require.Len(t, o.Series, 2)
	assert.Equal(t, "rule", o.Series[0].RenderItem)
	assert.Equal(t, []any{0.0, 3.0, 1.0, 5.0, hostile, "beyond"}, o.Series[1].Data[0].Value)
	assert.Nil(t, o.Series[1].Data[1].Value[1])
}

func TestChartsWithNothingFail(t *testing.T) {
	_, err := Rows(nil, "", nil, "")
	assert.Error(t, err)
	_, err = Curves(english, []Curve{{Name: "a"}}, 0, "")
	assert.Error(t, err)
	_, err = Trend([]Row{{}}, "")
	assert.Error(t, err)
	assert.Empty(t, Spark([]float64{1}, ""))
}

// Categories set through the axis are overwritten on validation by the library, so
// they must be given to the chart.
func TestTrendKeepsItsPeriods(t *testing.T) {
	c, err := Trend([]Row{{Name: "2022-Q1", Value: 1, Low: 0.5, High: 2}, {Name: "2022-Q2", Value: math.NaN(), Low: math.NaN(), High: math.NaN()}}, "d")
	require.NoError(t, err)
	var o struct{ XAxis []struct{ Data []string } }
	require.NoError(t, json.Unmarshal(c.Options, &o))
	assert.Equal(t, []string{"2022-Q1", "2022-Q2"}, o.XAxis[0].Data)
}

func TestAxisEndsAreRoundAndHoldZero(t *testing.T) {
	for _, c := range []struct{ lo, hi, wantLow, wantHigh, wantStep float64 }{
		{0, 148, 0, 150, 50}, {-3, 44, -10, 50, 10}, {0, 1, 0, 1, 0.2}, {5, 5, 0, 5, 1}, {0, 0, 0, 1, 0.5}, {-0.1, 3.1, -1, 4, 1},
	} {
		s := newSpan()
		s.add(c.lo, c.hi, math.NaN(), math.Inf(1))
		low, high, step := s.ends()
		assert.InDeltaSlice(t, []float64{c.wantLow, c.wantHigh, c.wantStep}, []float64{low, high, step}, 1e-9, c)
	}
}

// The map must know every zone of the contract and no other.
func TestMapHasEveryZoneOfTheContract(t *testing.T) {
	for _, arch := range []string{"upper", "lower"} {
		var drawn []string
		for _, p := range arches[arch] {
			drawn = append(drawn, p.zone)
		}
		assert.ElementsMatch(t, bundle.Zones(arch), drawn, arch)
	}
}

// The patient's right is at the left of the picture in both arches, and the upper's
// front is above its back while the lower's is below.
func TestMapKeepsThePatientsSides(t *testing.T) {
	for arch, sign := range map[string]float64{"upper": -1, "lower": 1} {
		for _, p := range arches[arch] {
			for _, s := range p.spots() {
				x, _ := position(arch, 1, (s.shape.from+s.shape.to)/2)
				switch s.side {
				case "left":
					assert.Greater(t, x, mapWidth/2.0, p.zone)
				case "right":
					assert.Less(t, x, mapWidth/2.0, p.zone)
				default:
					assert.InDelta(t, mapWidth/2.0, x, 1e-9, p.zone)
				}
			}
		}
		_, front := position(arch, 1, 0)
		_, back := position(arch, 1, 120)
		assert.Positive(t, sign*(front-back), arch)
	}
}

func TestMapStaysInItsFrame(t *testing.T) {
	for arch, places := range arches {
		for _, p := range places {
			for _, s := range p.spots() {
				for a := s.shape.from; a <= s.shape.to; a++ {
					x, y := position(arch, s.shape.outer, a)
					assert.True(t, x >= 0 && x <= mapWidth && y >= 0 && y <= mapHeight, "%s %s %s: %g %g", arch, p.zone, s.side, x, y)
				}
			}
		}
	}
}

func TestMapWritesFiguresAndEscapesNames(t *testing.T) {
	svg := ZoneMap(english, "upper", []Zone{{"tuberosity", "left", hostile, 10, "10", hostile}, {"tuberosity", "right", "few", math.NaN(), "", "too few"}}, 10, hostile)
	tags := wellFormed(t, svg)
	assert.NotContains(t, tags, "b")
	assert.Contains(t, svg, ">10</text>")
	assert.Contains(t, svg, `class="f5"`)
	assert.Contains(t, svg, `class="fx"`)
	assert.True(t, Drawable("upper", "tuberosity", "left"))
	assert.False(t, Drawable("upper", "tuberosity", "middle"))
	assert.False(t, Drawable("upper", hostile, "left"))
}

func TestFillHasFiveSteps(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{{math.NaN(), "fx"}, {0, "f0"}, {0.01, "f1"}, {2, "f1"}, {2.01, "f2"}, {10, "f5"}, {12, "f5"}} {
		assert.Equal(t, c.want, level(c.v, 10))
	}
	assert.Equal(t, "f0", level(1, 0))
}

func TestSmallPicturesAreWellFormed(t *testing.T) {
	wellFormed(t, Spark([]float64{1, math.NaN(), 3, -1}, hostile))
	svg := Strip(english, Beside{Own: 5, Low: 2, High: 9, Colleagues: 4, Peers: []float64{1, 2, math.NaN(), 3}, Unit: hostile, Title: hostile})
	wellFormed(t, svg)
	assert.Equal(t, 3, strings.Count(svg, `class="peer"`))
	assert.Contains(t, svg, ">you</text>")
	none := Strip(english, Beside{Own: math.NaN(), Low: math.NaN(), High: math.NaN(), Colleagues: math.NaN()})
	assert.NotContains(t, none, "NaN")
}
