package habit

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestEveryNodeStandsInOneGroup: nothing of the diagram is left out of its drawing.
func TestEveryNodeStandsInOneGroup(t *testing.T) {
	seen := map[string]int{}
	for _, g := range Groups {
		for _, m := range g.Members {
			seen[m]++
			_, ok := Causes.Node(m)
			assert.True(t, ok, "%s of group %s is no node", m, g.ID)
		}
	}
	for _, n := range Causes.Nodes {
		assert.Equal(t, 1, seen[n.ID], n.ID)
	}
	assert.Empty(t, GroupOf("no_such_node"))
}

// TestEveryArrowHasItsReasonOnce: the reasons, multiplied out, are the edges and no
// others, and the arrows between groups stand for all edges that leave their group.
func TestEveryArrowHasItsReasonOnce(t *testing.T) {
	want, got := map[Edge]int{}, map[Edge]int{}
	inside := 0
	for _, e := range Causes.Edges {
		want[e]++
		if GroupOf(e.From) == GroupOf(e.To) {
			inside++
		}
	}
	for _, r := range Causes.Reasons() {
		require.NotEmpty(t, r.Why)
		for _, f := range r.From {
			for _, to := range r.To {
				got[Edge{f, to, r.Why}]++
			}
		}
	}
	assert.Equal(t, want, got)
	between := 0
	for _, a := range Causes.GroupArrows() {
		between += a.N
	}
	assert.Equal(t, len(Causes.Edges), inside+between)
}

// TestPartByHand: x brings about y straight and through m; h has a part in x and, through
// u, which is not shown, in y; c is brought about by y and is not shown.
func TestPartByHand(t *testing.T) {
	d := Diagram{Nodes: []Node{{ID: "h"}, {ID: "u"}, {ID: "n"}, {ID: "m"}, {ID: "x"}, {ID: "y"}, {ID: "c"}},
		Edges: []Edge{{"h", "x", ""}, {"h", "u", ""}, {"u", "y", ""}, {"x", "m", ""}, {"m", "n", ""}, {"n", "y", ""}, {"x", "y", ""}, {"y", "c", ""}}}
	assert.Equal(t, Part{"x", "y", []string{"h"}, []string{"m", "n"}, true, true, false, true}, d.PartOf("x", "y", []string{"h"}))
	assert.Equal(t, Part{Exposure: "m", Outcome: "c", Held: []string{"x"}, Between: []string{"n", "y"}, ToExposure: true, ToBetween: true}, d.PartOf("m", "c", []string{"x"}), "x reaches c through y alone")
	assert.Equal(t, Part{Exposure: "u", Outcome: "x", Held: nil, Between: []string{}}, d.PartOf("u", "x", nil), "no arrow leads there")
}

// TestPartsOfTheCatalogue: what lies between is never held alike, comes in the order of
// the arrows, and is there or an arrow leads straight, unless the pair is a control.
func TestPartsOfTheCatalogue(t *testing.T) {
	for _, h := range Hypotheses {
		p := Causes.PartOf(h.Node(), h.Outcome, h.Adjust())
		assert.Equal(t, h.Control, len(p.Between) == 0 && !p.Direct, h.ID)
		for i, b := range p.Between {
			assert.NotContains(t, p.Held, b, h.ID)
			for _, later := range p.Between[i+1:] {
				assert.NotContains(t, Causes.children(later), b, "%s: %s comes before %s", h.ID, b, strings.Join(p.Between, " "))
			}
		}
		assert.True(t, p.ToExposure, "%s: what is held alike has no part in it", h.ID)
		assert.True(t, p.ToOutcome || p.ToBetween, h.ID)
		assert.True(t, slices.Equal(p.Held, h.Adjust()), h.ID)
	}
}
