package page

import (
	"strings"

	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// This file finds the words of the case audit: names of record fields, rules and
// questions.

// inUnit is a reading with its unit.
func (w words) inUnit(field, value string) string {
	if strings.HasSuffix(field, "_mm") {
		return w.Say("figure.mm", "value", value)
	}
	return value
}

func (w words) spotGrade(g int64) string {
	if s, ok := w.Named("spot.*", w.count(g)); ok {
		return s
	}
	return w.Say("timeline.grade", "n", g)
}

func (w words) endWord(code string) string {
	if code == "" || code == "unknown" {
		return w.Say("timeline.end_unknown")
	}
	return w.or("end.*", code, isolated(spaced(code)))
}

// ruleSentence says why a case was picked, "" for one that was named.
func (w words) ruleSentence(rule string, place int) string {
	why, ok := w.Named("rule.*", rule)
	if !ok {
		return ""
	}
	return w.Say("audit.picked", "rule", spaced(rule), "n", place, "why", why)
}

// AuditReason is the rule in words, for a terminal; "" for a case that was named.
func AuditReason(a *review.Audit) string {
	why, _ := wording.English().Named("rule.*", a.Rule)
	return why
}

func (w words) beforeQuestions() []string {
	return []string{
		w.Say("before.again"),
		w.Say("before.visits"),
		w.Say("before.where"),
		w.Say("before.delivery"),
	}
}

// asks puts one question of the audit about all that the case gives cause to ask it of:
// one question with a list is discussed, ten alike are skipped.
func (w words) asks(id string, about []string) []string {
	if len(about) > 1 {
		if text := w.askOfAll(id, about); text != "" {
			return []string{text}
		}
	}
	out := make([]string, len(about))
	for i, x := range about {
		out[i] = w.ask(id, x)
	}
	return out
}

// ask puts one question about one thing: an arch, a place, a field or a habit.
func (w words) ask(id, about string) string {
	switch id {
	case review.AskReview:
		return w.Say("ask.review", "place", w.askedPlace(about))
	case review.AskRecord:
		return w.Say("ask.record", "field", sentenceCase(w.valueName("", about)))
	case review.AskHabit:
		return w.Say("ask.habit", "habit", w.habit(about))
	case review.AskMore:
		return w.Say("ask.more", "arch", w.code(about))
	case review.AskFewer:
		return w.Say("ask.fewer", "arch", w.code(about))
	case review.AskAgain:
		return w.Say("ask.again", "place", w.askedPlace(about))
	case review.AskCause:
		return w.Say("ask.cause", "arch", w.code(about))
	case review.AskSimilar:
		return w.Say("ask.similar")
	}
	return w.Say("ask.keep")
}

// askOfAll puts a question about several things at once, "" where it has no such form.
func (w words) askOfAll(id string, about []string) string {
	switch id {
	case review.AskReview:
		return w.Say("ask.review_all", "places", sentenceCase(enumerated(about, "; ", w.askedPlace)))
	case review.AskRecord:
		return w.Say("ask.record_all", "fields", enumerated(about, "; ", func(field string) string { return w.valueName("", field) }))
	case review.AskHabit:
		return w.Say("ask.habit_all", "habits", enumerated(about, ", ", func(habit string) string { return w.Say("ask.habit_quoted", "habit", w.habit(habit)) }))
	case review.AskMore:
		return w.Say("ask.more_both")
	case review.AskFewer:
		return w.Say("ask.fewer_both")
	case review.AskAgain:
		return w.Say("ask.again_all", "places", sentenceCase(enumerated(about, "; ", w.askedPlace)))
	}
	return ""
}

// askedPlace names what a question says as arch|zone|side.
func (w words) askedPlace(about string) string {
	arch, rest, _ := strings.Cut(about, "|")
	zone, side, _ := strings.Cut(rest, "|")
	return w.placeName(arch, zone, side)
}

func enumerated(items []string, between string, name func(string) string) string {
	names := make([]string, len(items))
	for i, item := range items {
		names[i] = name(item)
	}
	return strings.Join(names, between)
}

// auditTerms are the words that an audit explains.
var auditTerms = []string{"like", "as_many", "house", "usual", "patterns", "interval"}
