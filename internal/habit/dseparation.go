package habit

import (
	"errors"
	"fmt"
	"slices"
)

// ErrNoAdjustment says that no set of measured things blocks every back-door path.
var ErrNoAdjustment = errors.New("no measured set blocks every back-door path")

// visit is a node with the way it was entered: from a child (up) or a parent.
type visit struct {
	id string
	up bool
}

// Separated reports whether given d-separates x from y: every path between them
// is blocked at a node of given where arrows do not meet, or at a node where they
// meet and which is neither in given nor an ancestor of given. A node is never
// separated from itself; x or y inside given counts as separated from the other.
// Method: Shachter 1998, Bayes-Ball, UAI; see also Koller & Friedman 2009,
// Probabilistic Graphical Models, algorithm 3.1.
func (d Diagram) Separated(x, y string, given []string) bool {
	if x == y {
		return false
	}
	if slices.Contains(given, x) || slices.Contains(given, y) {
		return true
	}
	return !d.reachable(x, given)[y]
}

// reachable is the set of nodes that an active trail from x ends at.
func (d Diagram) reachable(x string, given []string) map[string]bool {
	known := map[string]bool{}
	for _, g := range given {
		known[g] = true
	}
	out, seen := map[string]bool{}, map[visit]bool{}
	for todo := []visit{{x, true}}; len(todo) > 0; {
		v := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if seen[v] {
			continue
		}
		seen[v] = true
		if !known[v.id] {
			out[v.id] = true
		}
		// Up to the parents: a trail that came from a child passes an unknown node; one that
		// came from a parent meets another arrow here and turns back at a known one. A known
		// node below a meeting sends the trail up again, so ancestors need no look of their own.
		if v.up != known[v.id] {
			for _, p := range d.parents(v.id) {
				todo = append(todo, visit{p, true})
			}
		}
		if !known[v.id] {
			for _, c := range d.children(v.id) {
				todo = append(todo, visit{c, false})
			}
		}
	}
	return out
}

// BackDoorBlocked reports whether set meets the back-door criterion for the effect
// of x on y: no member is x, y or a descendant of x, and set blocks every path
// between them that starts with an arrow into x.
// Source: Pearl 2009, Causality, definition 3.3.1.
func (d Diagram) BackDoorBlocked(x, y string, set []string) bool {
	below := d.Descendants(x)
	for _, s := range set {
		if s == x || s == y || slices.Contains(below, s) {
			return false
		}
	}
	return d.withoutArrowsFrom(x).Separated(x, y, set)
}

func (d Diagram) withoutArrowsFrom(x string) Diagram {
	out := Diagram{Nodes: d.Nodes}
	for _, e := range d.Edges {
		if e.From != x {
			out.Edges = append(out.Edges, e)
		}
	}
	return out
}

// AdjustmentSet returns a smallest-by-inclusion set of measured nodes that meets
// the back-door criterion for x and y, in the order of the nodes, or
// ErrNoAdjustment. The rule: start from all measured ancestors of x or y that are
// no descendants of x (if any set does, this one does); go through them from the
// last node of the diagram to the first and drop each one without which the rest
// still blocks. So what stands early among the nodes stays rather than what stands
// late. One round is enough: among ancestors blocking is cutting an undirected graph
// that does not change with the set, so what could not be dropped from a larger set
// cannot be dropped from a smaller one.
// Source: Tian, Paz & Pearl 1998, Finding minimal d-separators, UCLA R-254; van
// der Zander, Liskiewicz & Textor 2014, UAI (both from memory; a test compares
// the result with a search over all sets).
func (d Diagram) AdjustmentSet(x, y string) ([]string, error) {
	for _, id := range []string{x, y} {
		if _, ok := d.Node(id); !ok {
			return nil, fmt.Errorf("no node %q in the diagram", id)
		}
	}
	if x == y || d.Leads(y, x) {
		return nil, fmt.Errorf("%s comes before %s: %w", y, x, ErrNoAdjustment)
	}
	set := d.candidates(x, y)
	cut := d.withoutArrowsFrom(x)
	if !cut.Separated(x, y, set) {
		return nil, fmt.Errorf("%s and %s: %w", x, y, ErrNoAdjustment)
	}
	for i := len(set) - 1; i >= 0; i-- {
		if less := slices.Delete(slices.Clone(set), i, i+1); cut.Separated(x, y, less) {
			set = less
		}
	}
	return set, nil
}

// candidates are the measured ancestors of x or y that are no descendants of x.
func (d Diagram) candidates(x, y string) []string {
	ancestors := map[string]bool{}
	for _, a := range slices.Concat(d.Ancestors(x), d.Ancestors(y)) {
		ancestors[a] = true
	}
	below := d.Descendants(x)
	out := []string{}
	for _, n := range d.Nodes {
		if n.Measured && ancestors[n.ID] && n.ID != x && !slices.Contains(below, n.ID) {
			out = append(out, n.ID)
		}
	}
	return out
}
