package habit

import (
	"fmt"
	"slices"
)

// Node is one thing of the causal diagram: something about the patient, the
// people, the records or what came later.
type Node struct {
	ID       string
	Label    string   // for readers
	Measured bool     // whether linked_dentures holds it
	Columns  []string // the columns that hold it; the first, a code or band, is the one to adjust by
}

// Edge says that From has a part in bringing about To, and why, in one sentence.
type Edge struct{ From, To, Why string }

// Diagram is a causal diagram: a directed graph without cycles. What no edge
// joins is assumed to have no direct part in each other. The order of the nodes
// is the order of preference in AdjustmentSet.
type Diagram struct {
	Nodes []Node
	Edges []Edge
}

// Node returns the node of that id.
func (d Diagram) Node(id string) (Node, bool) {
	i := slices.IndexFunc(d.Nodes, func(n Node) bool { return n.ID == id })
	if i < 0 {
		return Node{}, false
	}
	return d.Nodes[i], true
}

// Holding returns the id of the node that a column of linked_dentures belongs to,
// "" if none does.
func (d Diagram) Holding(column string) string {
	for _, n := range d.Nodes {
		if slices.Contains(n.Columns, column) {
			return n.ID
		}
	}
	return ""
}

// Check returns an error for an id that stands twice, an edge to no node, an edge
// that stands twice, and a cycle.
func (d Diagram) Check() error {
	seen := map[string]bool{}
	for _, n := range d.Nodes {
		if seen[n.ID] {
			return fmt.Errorf("node %s stands twice", n.ID)
		}
		seen[n.ID] = true
	}
	pairs := map[[2]string]bool{}
	for _, e := range d.Edges {
		if !seen[e.From] || !seen[e.To] {
			return fmt.Errorf("edge %s to %s names no node", e.From, e.To)
		}
		if pairs[[2]string{e.From, e.To}] {
			return fmt.Errorf("edge %s to %s stands twice", e.From, e.To)
		}
		pairs[[2]string{e.From, e.To}] = true
	}
	for _, n := range d.Nodes {
		if slices.ContainsFunc(d.children(n.ID), func(c string) bool { return c == n.ID || d.Leads(c, n.ID) }) {
			return fmt.Errorf("node %s leads back to itself", n.ID)
		}
	}
	return nil
}

func (d Diagram) children(id string) []string {
	var out []string
	for _, e := range d.Edges {
		if e.From == id {
			out = append(out, e.To)
		}
	}
	return out
}

func (d Diagram) parents(id string) []string {
	var out []string
	for _, e := range d.Edges {
		if e.To == id {
			out = append(out, e.From)
		}
	}
	return out
}

// Descendants returns everything that can be reached from id along the arrows, id
// itself left out, in the order of the nodes.
func (d Diagram) Descendants(id string) []string { return d.closure(id, d.children) }

// Ancestors returns everything from which id can be reached, id itself left out,
// in the order of the nodes.
func (d Diagram) Ancestors(id string) []string { return d.closure(id, d.parents) }

// Leads reports whether arrows lead from one node to another one.
func (d Diagram) Leads(from, to string) bool { return slices.Contains(d.Descendants(from), to) }

func (d Diagram) closure(id string, next func(string) []string) []string {
	found := map[string]bool{}
	for todo := next(id); len(todo) > 0; {
		n := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if n != id && !found[n] {
			found[n] = true
			todo = append(todo, next(n)...)
		}
	}
	return d.inOrder(found)
}

// inOrder lists the ids of a set in the order of the nodes.
func (d Diagram) inOrder(set map[string]bool) []string {
	out := []string{}
	for _, n := range d.Nodes {
		if set[n.ID] {
			out = append(out, n.ID)
		}
	}
	return out
}
