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
	w      words
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
		return template.HTML(chart.DrawPartAgain(p.w.Catalogue, id, height, part))
	}
	svg, height := chart.DrawPart(p.w.Catalogue, id, part)
	if p.drawn == nil {
		p.drawn = map[string]int{}
	}
	p.drawn[id] = height
	return template.HTML(svg)
}

// causes is the whole diagram with every arrow and its reason as a table.
func (w words) causes() []figure {
	t := &table{Screen: true, Caption: w.caption(w.Say("causes.table")), Head: w.columns("from_each_of", "to_each_of", "why")}
	for _, r := range habit.Causes.Reasons() {
		t.Rows = append(t.Rows, []string{w.nodeTitles(r.From), w.nodeTitles(r.To), w.found(r.Why)})
	}
	left := &table{Screen: true, Caption: w.caption(w.Say("causes.left_out")), Head: w.columns("where", "what")}
	for _, o := range habit.LeftOut {
		left.Rows = append(left.Rows, []string{w.nodeTitles([]string{o.Node}), w.found(o.Sentence)})
	}
	return []figure{{ID: "causes", Title: w.Say("causes.title"),
		Lead:    w.Say("causes.lead"),
		SVG:     template.HTML(chart.DrawCauses(w.Catalogue, habit.Causes)),
		Wide:    true,
		Caption: w.Say("causes.caption"),
		Table:   t}, {ID: "left-out", Table: left}}
}

// nodeTitles names nodes of the causal diagram, each as at the start of a line.
func (w words) nodeTitles(list []string) string {
	var out []string
	for _, id := range list {
		if n, ok := habit.Causes.Node(id); ok {
			out = append(out, sentenceCase(w.or("cause.*", id, n.Label)))
		}
	}
	return strings.Join(out, "; ")
}

// shownStatements are the queries behind the findings about habits and quantities, from
// the dentures to the variances.
var shownStatements = []string{"denture_words", "denture_visits", "denture_spots", "denture_firsts", "dose_readings"}

func statements() []statement {
	out := make([]statement, len(shownStatements))
	for i, name := range shownStatements {
		out[i] = statement{name, strings.TrimSpace(queries.Text(name))}
	}
	return out
}
