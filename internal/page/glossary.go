package page

import "afterfit/internal/review"

// outcomeOrder is the order in which definitions stand.
var outcomeOrder = []string{review.Adjustments, review.SoreSpots, review.Ulcer, review.Remake, review.Reline, review.Display, review.Vertical, review.Minutes}

// glossaryOrder are the words and sources that pack and share form explain; statistical
// ones stand in the pack alone, as their figures do.
var (
	glossaryOrder = []string{"interval", "n", "per_100", "not_adjusted", "habit", "freeway", "ridge_class", "remake", "sources"}
	statistical   = []string{"case_mix", "control", "p_q", "shrunken", "concordance", "standard_error", "power", "knots", "log_ratio"}
)

func (w words) glossary() []definition { return w.defined("glossary", glossaryOrder) }

// defined are the definitions of a group of messages, which have a term and a text each.
func (w words) defined(group string, ids []string) []definition {
	out := make([]definition, len(ids))
	for i, id := range ids {
		out[i] = definition{w.or(group+".*.term", id, id), w.or(group+".*.text", id, "")}
	}
	return out
}
