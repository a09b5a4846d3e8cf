package habit

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCausesIsADiagram(t *testing.T) {
	require.NoError(t, Causes.Check())
	held := map[string]string{}
	for _, n := range Causes.Nodes {
		assert.NotEmpty(t, n.Label, n.ID)
		for _, c := range n.Columns {
			assert.Empty(t, held[c], "%s stands at two nodes", c)
			held[c] = n.ID
		}
		assert.True(t, n.Measured || n.Columns == nil, "%s has a column", n.ID)
		assert.NotEmpty(t, slices.Concat(Causes.parents(n.ID), Causes.children(n.ID)), "%s stands alone", n.ID)
	}
	for _, e := range Causes.Edges {
		assert.Regexp(t, `^[A-Z].*[^.]\.$`, e.Why, "%s to %s", e.From, e.To)
	}
	for _, h := range Catalogue {
		assert.NotEmpty(t, held[h.Column()], "%s is not in the diagram", h.ID)
	}
	for _, l := range LeftOut {
		_, ok := Causes.Node(l.Node)
		assert.True(t, ok, l.Node)
		assert.Regexp(t, `^[A-Z].*\.$`, l.Sentence)
	}
}

// TestHypothesesAreWhole holds the words of the catalogue.
func TestHypothesesAreWhole(t *testing.T) {
	outcomes := []string{visits, sore, remake, reline, ulcer, shows, tallness}
	seen, looked := map[string]bool{}, map[string]bool{}
	for _, h := range Hypotheses {
		assert.False(t, seen[h.ID], "%s stands twice", h.ID)
		seen[h.ID], looked[h.Exposure] = true, looked[h.Exposure] || !h.Control
		assert.Regexp(t, `^[A-Z].*[^.]\.$`, h.Mechanism, h.ID)
		assert.NotEmpty(t, h.Source, h.ID)
		assert.Contains(t, outcomes, h.Outcome, h.ID)
		assert.Contains(t, []Direction{More, Fewer, Either}, h.Direction, h.ID)
		_, isHabit := Find(h.Exposure)
		assert.Equal(t, h.Kind == OfHabit, isHabit, h.ID)
		assert.Equal(t, h.Kind == OfQuantity, strings.HasSuffix(h.Exposure, "_mm"), h.ID)
		got, ok := FindHypothesis(h.ID)
		assert.True(t, ok)
		assert.Equal(t, h, got)
	}
	for _, h := range Catalogue {
		assert.True(t, looked[h.ID], "no hypothesis looks at %s", h.ID)
	}
	_, ok := FindHypothesis("no_such_hypothesis")
	assert.False(t, ok)
}

// TestAdjustmentSetsOfTheCatalogue is the promise made to readers: what is adjusted
// for comes before the exposure and leaves no common cause open.
func TestAdjustmentSetsOfTheCatalogue(t *testing.T) {
	for _, h := range Hypotheses {
		x := h.Node()
		require.NotEmpty(t, x, "%s is not in the diagram", h.ID)
		_, ok := Causes.Node(h.Outcome)
		require.True(t, ok, h.ID)
		set, err := Causes.AdjustmentSet(x, h.Outcome)
		require.NoError(t, err, h.ID)
		assert.Equal(t, set, h.Adjust())
		assert.True(t, Causes.BackDoorBlocked(x, h.Outcome, set), h.ID)
		for _, id := range set {
			assert.False(t, Causes.Leads(x, id), "%s: %s comes after %s", h.ID, id, x)
			n, _ := Causes.Node(id)
			assert.True(t, n.Measured, "%s: %s", h.ID, id)
		}
		assert.Equal(t, !h.Control, Causes.Leads(x, h.Outcome), "%s: an arrow leads to the outcome unless it is a control", h.ID)
		assert.NotContains(t, h.Columns(), "clinician", h.ID)
		assert.NotContains(t, h.Columns(), "arch", h.ID)
		assert.True(t, h.Within("clinician"), "%s: people differ in everything", h.ID)
	}
}

// TestSetsWorkedByHand holds sets that were worked out on paper from the diagram.
func TestSetsWorkedByHand(t *testing.T) {
	// Freeway space comes after the bulk of the tray: never adjusted for.
	bulky, _ := FindHypothesis("clearance_over_2.early_sore_spots")
	for _, later := range ids("freeway", "vertical", "palate", "seating", "touches", "discomfort") {
		assert.NotContains(t, bulky.Adjust(), later)
	}
	assert.Subset(t, bulky.Adjust(), ids("arch", "clinician", "ridge"))
	assert.True(t, bulky.Within("arch"))
	assert.False(t, bulky.Within("ridge"), "no stratum")
	// Bulk over the palate shares its tray with distortion of the impression: the
	// space and the seating of that tray have to be held.
	palate, _ := FindHypothesis("palate_bulk.early_sore_spots")
	assert.Subset(t, palate.Columns(), ids("band_clearance", "band_seating"))
	// Whether the lip was written down depends on people and times only.
	lip, _ := FindHypothesis("lip_not_recorded.early_sore_spots")
	assert.Equal(t, ids("clinician", "operator", "period"), lip.Adjust())
	assert.Equal(t, ids("operator", "year"), lip.Columns())
	assert.Equal(t, "freeway_mm", Hypothesis{Exposure: "freeway_mm", Kind: OfQuantity}.Column())
	assert.Nil(t, Hypothesis{Exposure: "no_such", Kind: OfHabit, Outcome: sore}.Adjust())
	assert.NotEmpty(t, Hypothesis{Exposure: "discomfort_used", Kind: OfHabit}.Assumed())
	assert.Empty(t, Hypothesis{Exposure: "first_tray_used", Kind: OfHabit}.Assumed())
}
