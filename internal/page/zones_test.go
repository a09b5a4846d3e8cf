package page

import (
	"html"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/review"
)

// storyContrasts gives one habit differences of every kind.
func storyContrasts() []review.ZoneContrast {
	diff := func(arch, zone, side string, v, low, high float64) review.ZoneContrast {
		return review.ZoneContrast{Habit: "clearance_over_2", Arch: arch, Zone: zone, Side: side, With: rate(9+v, 812), Without: rate(9, 2960), Difference: est(v, low, high, 3772, 300, "per 100 dentures")}
	}
	few := diff("lower", "torus", "left", 1, 0, 2)
	few.Difference = fewer(3)
	return []review.ZoneContrast{
		diff("upper", "tuberosity", "left", 4.2, 1.1, 7.3), diff("upper", "palate_midline", "middle", 12.4, 8, 16.8), diff("upper", "hamular_notch", "right", -2.2, -4, -0.4), diff("upper", "labial_sulcus", "left", 0.9, -1, 2.8),
		diff("lower", "retromylohyoid", "left", 6.1, 2, 10.2), diff("lower", "ridge_crest_back", "right", 2.6, -0.5, 5.7), diff("lower", "buccal_shelf", "right", -1.4, -3.5, 0.7), few, diff("lower", "genial", "", 1.2, -1, 3.4),
	}
}

func TestZoneDifferencesAreToldAndDrawn(t *testing.T) {
	page := html.UnescapeString(ours(rendered(t, "pack")))
	figureOf := func(id string) string {
		_, rest, ok := strings.Cut(page, `<figure id="`+id+`"`)
		require.True(t, ok, id)
		found, _, _ := strings.Cut(rest, "</figure>")
		return found
	}
	upper, lower := figureOf("zone-difference-1-upper"), figureOf("zone-difference-1-lower")
	for _, words := range []string{
		"were sore clearly more often at 3 places and less often at 1 place; at 4 places the interval holds zero. The largest: upper middle of the palate, middle, +12 per 100 dentures (95% interval 8 to 17).",
		`class="m5"`, `>+12</text>`, `>+4.2</text>`, `>−2.2</text>`, `>+0.9</text>`, `fill="url(#zone-difference-1-upper-hatch)"`, "Largest clear differences", "n = 812 dentures with the habit, 2,960 without",
	} {
		assert.Contains(t, upper, words)
	}
	for _, words := range []string{`class="fx"`, "300 spots recorded without a side that the drawing has", `>−1.4</text>`} {
		assert.Contains(t, lower, words)
	}
	assert.Equal(t, 2, strings.Count(lower, `fill="url(#`), "the crest and the shelf are not sure")
	assert.NotContains(t, lower, "were sore clearly", "the sentence stands once")
}

func TestNoClearPlaceIsSaid(t *testing.T) {
	all := storyContrasts()[3:4]
	lead := english.zoneLead("clearance_over_2", all)
	assert.Equal(t, "Dentures from trays with more than 2 mm of space differ clearly from the others at no place; at 1 place the interval holds zero.", lead)
	assert.InDelta(t, 0.9, steepest(all), 1e-9)
	assert.Len(t, english.largest(all), 1)
}
