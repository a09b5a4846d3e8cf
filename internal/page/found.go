package page

import (
	"regexp"
	"strings"

	"afterfit/internal/wording"
)

// travelling are the groups of messages whose English travels in findings and in the
// catalogue of habits, so that --json and the pages say the same.
var travelling = []string{"finding.", "habit.", "clinician_habit.", "why.", "because.", "left_out.", "pointer.", "pattern.", "source.", "code."}

// oneOf finds "1 events" in a text that travels: findings count without looking at the
// noun, so that a text is known again by its message.
var oneOf = regexp.MustCompile(`(^|[^\d.,])1 (adjustment )?(denture|event|patient|spot|clinician|visit|day|case)s\b`)

// found is a text of the findings in the page's language. One that the catalogue does not
// know stays as it is.
func (w words) found(text string) string {
	if w.Code == wording.Source {
		return oneOf.ReplaceAllString(text, "${1}1 $2$3")
	}
	s, _ := w.Found(text, travelling...)
	return s
}

func (w words) allFound(texts []string) []string {
	out := make([]string, len(texts))
	for i, t := range texts {
		out[i] = w.found(t)
	}
	return out
}

// facts are what made a rule list a case; those of one rule stand in one text.
func (w words) facts(of []string) string {
	var out []string
	for _, f := range of {
		out = append(out, w.allFound(strings.Split(f, "; "))...)
	}
	return strings.Join(out, "; ")
}
