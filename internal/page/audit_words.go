package page

import (
	"strings"

	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// This file finds the words of the case audit: names of record fields, rules and
// questions.

func unitOfField(field string) string {
	if strings.HasSuffix(field, "_mm") {
		return " mm"
	}
	return ""
}

func (w words) spotGrade(g int64) string {
	if s, ok := w.Named("spot.*", w.count(g)); ok {
		return s
	}
	return w.Say("spot.grade", "n", g)
}

func (w words) endWord(code string) string {
	if code == "" || code == "unknown" {
		return w.Say("end.unknown")
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

// ask words one question.
func (w words) ask(q review.AuditQuestion) string {
	arch, rest, _ := strings.Cut(q.About, "|")
	zone, side, _ := strings.Cut(rest, "|")
	switch q.ID {
	case review.AskReview:
		return w.Say("ask.review", "place", w.placeName(arch, zone, side))
	case review.AskRecord:
		return w.Say("ask.record", "field", sentenceCase(w.valueName("", q.About)))
	case review.AskHabit:
		return w.Say("ask.habit", "habit", w.habit(q.About))
	case review.AskMore:
		return w.Say("ask.more", "arch", w.code(arch))
	case review.AskFewer:
		return w.Say("ask.fewer", "arch", w.code(arch))
	case review.AskAgain:
		return w.Say("ask.again", "place", w.placeName(arch, zone, side))
	case review.AskCause:
		return w.Say("ask.cause", "arch", w.code(arch))
	case review.AskSimilar:
		return w.Say("ask.similar")
	}
	return w.Say("ask.keep")
}

// auditTerms are the words that an audit explains.
var auditTerms = []string{"like", "as_many", "house", "usual", "patterns", "interval"}
