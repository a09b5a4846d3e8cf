package page

import (
	"html/template"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/habit"
	"afterfit/queries"
)

// parts draws each part of the causal diagram once and shows it again where another
// finding has the same.
type parts struct {
	prefix string
	drawn  map[string]int // height by id
}

// svg is the part for a hypothesis, "" where the catalogue does not have it.
func (p *parts) svg(hypothesis string) template.HTML {
	h, ok := habit.FindHypothesis(hypothesis)
	if !ok || h.Node() == "" {
		return ""
	}
	id := "part-" + p.prefix + h.Node() + "-" + h.Outcome
	part := habit.Causes.PartOf(h.Node(), h.Outcome, h.Adjust())
	if height, ok := p.drawn[id]; ok {
		return template.HTML(chart.DrawPartAgain(id, height, part))
	}
	svg, height := chart.DrawPart(id, part)
	if p.drawn == nil {
		p.drawn = map[string]int{}
	}
	p.drawn[id] = height
	return template.HTML(svg)
}

// causes is the whole diagram with every arrow and its reason as a table.
func causes() []figure {
	t := &table{Screen: true, Caption: "Table: every arrow of the diagram, with its reason", Head: []column{{"From each of", false}, {"To each of", false}, {"Why", false}}}
	for _, r := range habit.Causes.Reasons() {
		t.Rows = append(t.Rows, []string{nodeLabels(r.From), nodeLabels(r.To), r.Why})
	}
	left := &table{Screen: true, Caption: "Table: what the diagram leaves out", Head: []column{{"Where", false}, {"What", false}}}
	for _, o := range habit.LeftOut {
		left.Rows = append(left.Rows, []string{nodeLabels([]string{o.Node}), o.Sentence})
	}
	return []figure{{ID: "causes", Title: "What is taken to bring about what",
		Lead:    "Every comparison holds alike what this diagram asks for, and nothing else. It was written down before the figures were made.",
		SVG:     template.HTML(chart.DrawCauses(habit.Causes)),
		Wide:    true,
		Caption: "An arrow between two boxes stands for one or more between their members. Dashed: never recorded. Arrows inside a box, and the reason for each arrow, stand in the table.",
		Table:   t}, {ID: "left-out", Table: left}}
}

func nodeLabels(list []string) string {
	var out []string
	for _, id := range list {
		if n, ok := habit.Causes.Node(id); ok {
			out = append(out, n.Label)
		}
	}
	return strings.Join(out, "; ")
}

// shownStatements are the queries behind the findings about habits and quantities, from
// the dentures to the variances.
var shownStatements = []string{"outcome_ends", "outcome_rows", "pair_rows", "pair_patterns", "pair_strata", "pair_squares", "dose_rows", "dose_cells", "dose_squares", "dose_readings"}

func statements() []statement {
	out := make([]statement, len(shownStatements))
	for i, name := range shownStatements {
		out[i] = statement{name, strings.TrimSpace(queries.Text(name))}
	}
	return out
}
