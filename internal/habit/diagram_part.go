package habit

import "slices"

// Part is what of the diagram matters to one exposure and outcome.
type Part struct {
	Exposure, Outcome string
	Held              []string // adjusted for, or compared within
	Between           []string // on the way from exposure to outcome, in the order of the arrows; not held alike
	Direct            bool     // an arrow leads straight from exposure to outcome
	// ToExposure, ToBetween and ToOutcome say that something held has a part in these,
	// straight or through things that are not shown.
	ToExposure, ToBetween, ToOutcome bool
}

// PartOf cuts the part for a hypothesis. A control has nothing between, since no arrow
// leads from its exposure to its outcome.
func (d Diagram) PartOf(exposure, outcome string, held []string) Part {
	p := Part{Exposure: exposure, Outcome: outcome, Held: held, Between: []string{}}
	below, above := d.Descendants(exposure), d.Ancestors(outcome)
	between := map[string]bool{}
	for _, id := range below {
		between[id] = slices.Contains(above, id)
	}
	p.Between = d.downwards(between)
	p.Direct = slices.Contains(d.children(exposure), outcome)
	cut := d.withoutArrowsFrom(exposure)
	for _, h := range held {
		p.ToExposure = p.ToExposure || d.Leads(h, exposure)
		p.ToOutcome = p.ToOutcome || cut.leadsPast(h, outcome, between)
		for _, b := range p.Between {
			p.ToBetween = p.ToBetween || cut.Leads(h, b)
		}
	}
	return p
}

// leadsPast reports whether arrows lead from one node to another without passing a node
// of the set.
func (d Diagram) leadsPast(from, to string, set map[string]bool) bool {
	past := d.closure(from, func(id string) []string {
		if set[id] {
			return nil
		}
		return d.children(id)
	})
	return slices.Contains(past, to)
}

// downwards lists the ids of a set so that every arrow points onwards; nodes that no
// arrow orders stand in the order of the diagram.
func (d Diagram) downwards(set map[string]bool) []string {
	left := d.inOrder(set)
	out := []string{}
	for len(left) > 0 {
		next := slices.IndexFunc(left, func(id string) bool {
			return !slices.ContainsFunc(d.parents(id), func(p string) bool { return p != id && slices.Contains(left, p) })
		})
		if next < 0 {
			next = 0 // a cycle, which Check refuses
		}
		out, left = append(out, left[next]), slices.Delete(left, next, next+1)
	}
	return out
}
