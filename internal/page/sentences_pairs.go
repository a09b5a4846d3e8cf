package page

import (
	"fmt"
	"math"
	"strings"

	"afterfit/internal/habit"
	"afterfit/internal/review"
)

// This file holds the wording of findings about habits. It comes from the grade, and
// it speaks of going with, never of causing.

// gradeWord is a grade's name, what it means, and the order in which grades are shown.
type gradeWord struct{ Name, Meaning string }

var gradeOrder = []review.Grade{review.Clear, review.Likely, review.Unclear, review.NoSign, review.TooFew}

var gradeWords = map[review.Grade]gradeWord{
	review.Clear:   {"Clear", "expected in advance, beyond chance even among all the pairs looked at, the same when only case mix is held alike, and not easily explained by something that was not recorded."},
	review.Likely:  {"Likely", "probably more than chance, but not expected in advance, or less sure among so many pairs, or easier to explain by something that was not recorded."},
	review.Unclear: {"Unclear", "the data allow both no difference and one worth seeing."},
	review.NoSign:  {"No sign of one", "a difference worth seeing is ruled out, or nearly so."},
	review.TooFew:  {"Too few to tell", "too few dentures or events on one side."},
}

func gradeOf(g review.Grade) gradeWord {
	if w, ok := gradeWords[g]; ok {
		return w
	}
	return gradeWord{Name: sentenceCase(spaced(string(g)))}
}

// heldWords tell what kept a pair from a surer grade.
var heldWords = map[string]string{
	"few":      "too few dentures or events on one side",
	"interval": "the interval holds no difference",
	"q":        "not sure enough among all the pairs looked at",
	"stated":   "looked at without being expected in advance",
	"side":     "the other way round than expected",
	"case_mix": "the figure adjusted for case mix alone points the other way",
	"hidden":   "a weak thing that was not recorded could explain it",
}

// pairNouns are the outcomes as things to count.
var pairNouns = map[string]string{
	review.Adjustments: "adjustment visits", review.SoreSpots: "early sore spots", review.Ulcer: "first ulcers in a month",
	review.Remake: "remakes within a year", review.Reline: "relines or rebases within a year",
	review.Display: "complaints about looks", review.Vertical: "complaints about height or bite", review.Minutes: "minutes of chair time on adjustments",
}

func pairNoun(outcome string) string {
	if n, ok := pairNouns[outcome]; ok {
		return n
	}
	return spaced(outcome)
}

// who is "Dentures from trays with more than 2 mm of space".
func (w words) who(habitID string) string {
	if s := w.habitSentence(habitID); s != "" {
		return "Dentures " + s
	}
	return "Dentures with “" + w.habit(habitID) + "”"
}

// paired tells a pair in a sentence or two.
func (w words) paired(p review.Pair) string {
	c := p.Within
	if p.Grade == review.TooFew || !told(c.Ratio) {
		return w.who(p.Habit) + ", " + pairNoun(p.Outcome) + ": too few to tell." + more(p)
	}
	s := fmt.Sprintf("%s: %s had %s than like dentures of the same clinician (%s; %s against %s per 100; n = %s and %s).",
		gradeOf(p.Grade).Name, lowerFirst(w.who(p.Habit)), amount(p), interval(c.Difference), figureOf(c.With), figureOf(c.Without), count(c.With.N), count(c.Without.N))
	switch p.Grade {
	case review.NoSign:
		s = fmt.Sprintf("%s: %s had about as many %s as like dentures of the same clinician (difference %s per 100, %s; n = %s and %s).",
			gradeOf(p.Grade).Name, lowerFirst(w.who(p.Habit)), pairNoun(p.Outcome), figureOf(c.Difference), interval(c.Difference), count(c.With.N), count(c.Without.N))
	case review.Unclear:
		s += " This may be chance." + more(p)
	}
	return s
}

// amount is "63 more adjustment visits per 100".
func amount(p review.Pair) string {
	d, word := p.Within.Difference, "more"
	if d.Value < 0 {
		word = "fewer"
	}
	return fmt.Sprintf("%s %s %s per 100", number(review.Num(math.Abs(float64(d.Value))), decimals(d)), word, pairNoun(p.Outcome))
}

// more tells how many more dentures would settle it.
func more(p review.Pair) string {
	if p.More == 0 || !p.Seen.Known() {
		return ""
	}
	return fmt.Sprintf(" About %s more dentures with the habit would show a rate %s%% higher, if there is one, four times in five.", count(p.More), number(100*(p.Seen-1), 0))
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// saving tells what a change might save, and assumption what that takes for granted.
func saving(p review.Pair) string {
	y := p.Saved.PerYear
	if !told(y) || y.Value <= 0 {
		return ""
	}
	s := fmt.Sprintf("If the habit stopped: about %s fewer %s a year at this service (%s), from %s dentures a year with it", number(y.Value, decimals(y)), pairNoun(p.Outcome), interval(y), count(y.N))
	if m := p.Saved.Minutes; told(m) {
		s += fmt.Sprintf(", and %s minutes of chair time (%s)", number(m.Value, decimals(m)), interval(m))
	}
	return s + "."
}

const assumption = "This takes for granted that the habit itself brings the difference, that nothing else changes with it, and that the dentures compared stand for all with the habit."

// against tells the ratio beside what a hidden cause would need.
func against(p review.Pair) string {
	if !p.EValue.Known() {
		return ""
	}
	s := fmt.Sprintf("Something that was not recorded would have to go with both the habit and the outcome by a ratio of %s each to explain the figure away", number(p.EValue, 1))
	if p.ELimit > 1 {
		return s + fmt.Sprintf(", and by %s to bring its interval to no difference.", number(p.ELimit, 1))
	}
	return s + "; its interval holds no difference as it is."
}

// between tells whether it looks like the habit or the person who has it.
func between(p review.Pair) string {
	b := p.Between
	if !told(b) {
		return tooFew(b)
	}
	s := fmt.Sprintf("A clinician who always had the habit would have %s times the %s of one who never has (%s).", number(b.Value, decimals(b)), pairNoun(p.Outcome), interval(b))
	switch w := p.Within.Ratio; {
	case b.High/b.Low > 4:
		return s + " Clinicians are too few, or too alike, for this to say much."
	case w.Low > b.High || w.High < b.Low:
		return s + " That differs from the figure within clinicians, so part of the plain difference is the person’s."
	}
	return s + " That agrees with the figure within clinicians, so it looks like the habit rather than the person who has it."
}

// labels names nodes of the causal diagram.
func labels(nodes []string) string {
	var out []string
	for _, id := range nodes {
		if n, ok := habit.Causes.Node(id); ok {
			out = append(out, lowerFirst(n.Label))
		}
	}
	if len(out) == 0 {
		return "nothing"
	}
	return strings.Join(out, "; ")
}

// PairSentence tells a pair as the pack does, for a terminal.
func PairSentence(p review.Pair, opt Options) string { return opt.words().paired(p) }
