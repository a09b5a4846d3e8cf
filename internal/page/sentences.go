package page

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"afterfit/internal/review"
)

// stated tells one outcome in a sentence without its full stop.
func (w words) stated(id string, e review.Estimate) string {
	if !told(e) {
		return w.Say("sentence.about", "about", w.outcomeTitle(id), "said", w.tooFew(e))
	}
	if s, ok := w.Named("outcome.*.share", id, "share", w.figureOf(e), "interval", w.interval(e), "n", e.N); ok {
		return s
	}
	return w.Say("sentence.about", "about", w.outcomeTitle(id), "said", w.full(e))
}

// tooFew is why there is no figure, without a full stop.
func (w words) tooFew(e review.Estimate) string {
	if e.TooFew != "" {
		return strings.TrimSuffix(w.found(e.TooFew), ".")
	}
	return w.Say("sentence.no_figure")
}

// spread tells the lowest and highest of the values that have a figure, and whether
// their intervals overlap. Not recorded takes no part.
func (w words) spread(id, dimension string, values []review.GroupValue) string {
	var low, high *review.GroupValue
	for i := range values {
		v := &values[i]
		if !told(v.Estimate) || notRecorded(v.Code) {
			continue
		}
		if low == nil || v.Estimate.Value < low.Estimate.Value {
			low = v
		}
		if high == nil || v.Estimate.Value > high.Estimate.Value {
			high = v
		}
	}
	title := w.outcomeTitle(id)
	switch low {
	case nil:
		return w.Say("spread.too_few", "outcome", title)
	case high:
		return w.Say("spread.one", "outcome", title, "figure", w.full(low.Estimate))
	}
	return w.Say("spread.from_to",
		"outcome", title, "low", w.figureOf(low.Estimate), "lowest", w.value(dimension, low.Code), "high", w.figureOf(high.Estimate), "highest", w.value(dimension, high.Code),
		"unit", w.unitAfter(high.Estimate), "overlap", yes(low.Estimate.High >= high.Estimate.Low))
}

func (w words) unitAfter(e review.Estimate) string {
	if u := w.unitOf(e); u != "" {
		return " " + u
	}
	return ""
}

// periods is "2022-01 to 2024-12", or one period alone.
func (w words) periods(first, last string) string {
	if first == last {
		return w.Period(first)
	}
	return w.span(w.Period(first), w.Period(last))
}

// coverage tells what the figures stand on.
func (w words) coverage(c review.Coverage) []string {
	first := isolated(w.Period(c.FirstPeriod))
	if c.LastPeriod != c.FirstPeriod {
		first = w.span(first, w.Period(c.LastPeriod))
	}
	return []string{
		w.Say("coverage.stands_on", "period", first,
			"cases", c.Cases, "patients", c.Patients, "sites", c.Sites, "clinicians", c.Clinicians),
		w.Say("coverage.followed",
			"delivered", c.Delivered, "median", w.numberOr(c.MedianFollowUp), "year", w.figureOr(c.FullYear), "attended", w.figureOr(c.Attended)),
	}
}

// within is a sentence's text as it goes on within another sentence.
func (w words) within(s string) string {
	if r, size := utf8.DecodeRuneInString(s); w.Say("sentence.within") == "lower" && size > 0 {
		return string(unicode.ToLower(r)) + s[size:]
	}
	return s
}

// numberOr and figureOr are a figure, or "none" for a message that then leaves it out.
func (w words) numberOr(n review.Num) string {
	if !n.Known() {
		return "none"
	}
	return w.number(n, 0)
}

func (w words) figureOr(e review.Estimate) string {
	if !told(e) {
		return "none"
	}
	return w.figureOf(e)
}

// notes tells what the figures leave out.
func (w words) notes(c review.Coverage, given []string) []string {
	var out []string
	for _, n := range []struct {
		n    int64
		text string
	}{
		{c.Undelivered, w.Say("coverage.undelivered", "n", c.Undelivered)},
		{c.NoArchVisits, w.Say("coverage.no_arch", "n", c.NoArchVisits)},
		{c.BeforeDelivery, w.Say("coverage.before_delivery", "n", c.BeforeDelivery)},
		{c.SetAside, w.Say("coverage.set_aside", "n", c.SetAside)},
	} {
		if n.n > 0 {
			out = append(out, n.text)
		}
	}
	return append(out, w.allFound(given)...)
}

// lesionLead tells how many places need a look.
func (w words) lesionLead(l []review.Lesion) string {
	check := 0
	for _, x := range l {
		if x.Level == "check" {
			check++
		}
	}
	return w.Say("lesion.lead",
		"places", len(l), "check", check)
}
