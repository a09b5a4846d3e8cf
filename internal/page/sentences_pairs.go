package page

import (
	"math"
	"slices"
	"strings"

	"afterfit/internal/habit"
	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// This file holds the wording of findings about habits. It comes from the grade, and
// it speaks of going with, never of causing.

// gradeOrder is the order in which grades are shown.
var gradeOrder = []review.Grade{review.Clear, review.Likely, review.Unclear, review.NoSign, review.TooFew}

// gradeName is a grade within a sentence, gradeTitle at the start of one.
func (w words) gradeName(g review.Grade) string {
	return w.or("grade.*.name", string(g), spaced(string(g)))
}

func (w words) gradeTitle(g review.Grade) string { return sentenceCase(w.gradeName(g)) }

func (w words) gradeMeaning(g review.Grade) string { return w.or("grade.*.meaning", string(g), "") }

// pairNoun is an outcome as a thing to count.
func (w words) pairNoun(outcome string) string {
	return w.or("outcome.*.counted", outcome, spaced(outcome))
}

// who is "dentures from trays with more than 2 mm of space".
func (w words) who(habitID string) string {
	if s := w.habitSentence(habitID); s != "" {
		return w.Say("pair.who", "habit", s)
	}
	return w.Say("pair.who_named", "habit", w.habit(habitID))
}

// paired tells a pair in a sentence or two.
func (w words) paired(p review.Pair) string {
	c, noun := p.Within, w.pairNoun(p.Outcome)
	if p.Grade == review.TooFew || !told(c.Ratio) {
		return followed(w.Say("pair.too_few", "who", sentenceCase(w.who(p.Habit)), "counted", noun), w.more(p))
	}
	args := []any{"grade", w.gradeTitle(p.Grade), "who", w.who(p.Habit), "counted", noun, "interval", w.interval(c.Difference), "with", w.figureOf(c.With), "without", w.figureOf(c.Without),
		"n", c.With.N, "other_n", c.Without.N}
	d := c.Difference
	amount := w.number(review.Num(math.Abs(float64(d.Value))), decimals(d))
	nothing := amount == w.number(0, decimals(d)) // nobody has "0.0 fewer"
	var s string
	if p.Grade == review.NoSign || nothing {
		s = w.Say("pair.no_sign", append(args, "difference", w.figureOf(d))...)
	} else {
		s = w.Say("pair.differs", append(args, "amount", amount, "way", way(d.Value))...)
	}
	if p.Grade == review.Unclear {
		s = followed(s, w.Say("pair.chance"), w.more(p))
	}
	return s
}

// way is how a message is told to choose between more and fewer.
func way(n review.Num) string {
	if n < 0 {
		return "fewer"
	}
	return "more"
}

// more tells how many more dentures would settle it.
func (w words) more(p review.Pair) string {
	if p.More == 0 || !p.Seen.Known() {
		return ""
	}
	return w.Say("pair.more", "n", p.More, "percent", w.Percent(w.number(100*(p.Seen-1), 0)))
}

// saving tells what a change might save.
func (w words) saving(p review.Pair) string {
	y := p.Saved.PerYear
	if !told(y) || y.Value <= 0 {
		return ""
	}
	minutes, interval := "none", ""
	if m := p.Saved.Minutes; told(m) {
		minutes, interval = w.number(m.Value, decimals(m)), w.interval(m)
	}
	return w.Say("pair.saving",
		"n", w.number(y.Value, decimals(y)), "counted", w.pairNoun(p.Outcome), "interval", w.interval(y), "dentures", y.N, "minutes", minutes, "minutes_interval", interval) + " " +
		w.Say("pair.assumption")
}

// against tells the ratio beside what a hidden cause would need.
func (w words) against(p review.Pair) string {
	if !p.EValue.Known() {
		return ""
	}
	limit := "none"
	if p.ELimit > 1 {
		limit = w.number(p.ELimit, 1)
	}
	return w.Say("pair.hidden",
		"ratio", w.number(p.EValue, 1), "limit", limit)
}

// person tells whether it looks like the habit or the person who has it.
func (w words) person(p review.Pair) string {
	b := p.Between
	if !told(b) {
		return w.tooFew(b)
	}
	s := w.Say("pair.person", "times", w.number(b.Value, decimals(b)), "counted", w.pairNoun(p.Outcome), "interval", w.interval(b))
	switch within := p.Within.Ratio; {
	case b.High/b.Low > 4:
		return s + " " + w.Say("pair.person_few")
	case within.Low > b.High || within.High < b.Low:
		return s + " " + w.Say("pair.person_differs")
	}
	return s + " " + w.Say("pair.person_agrees")
}

// followed are sentences after each other, "" for one that is not said.
func followed(sentences ...string) string {
	return strings.Join(slices.DeleteFunc(sentences, func(s string) bool { return s == "" }), " ")
}

// nodes names nodes of the causal diagram within a sentence.
func (w words) nodes(ids []string) string {
	var out []string
	for _, id := range ids {
		if n, ok := habit.Causes.Node(id); ok {
			out = append(out, w.or("cause.*", id, n.Label))
		}
	}
	if len(out) == 0 {
		return w.Say("word.nothing")
	}
	return strings.Join(out, "; ")
}

// PairSentence tells a pair as the pack does, for a terminal.
func PairSentence(p review.Pair) string { return words{Catalogue: wording.English()}.paired(p) }
