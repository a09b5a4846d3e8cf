package page

import (
	"fmt"
	"strings"

	"afterfit/internal/review"
)

// stated tells one outcome in a sentence without its full stop.
func stated(id string, e review.Estimate) string {
	o := outcomeOf(id)
	switch {
	case !told(e):
		return o.Title + ": " + tooFew(e)
	case o.Verb != "":
		return fmt.Sprintf("%s of dentures %s (%s; n = %s)", figureOf(e), o.Verb, interval(e), count(e.N))
	}
	return o.Title + ": " + full(e)
}

func tooFew(e review.Estimate) string {
	if e.TooFew != "" {
		return strings.TrimSuffix(e.TooFew, ".")
	}
	return "no figure can be given"
}

// spread tells the lowest and highest of the values that have a figure, and whether
// their intervals overlap. Not recorded takes no part.
func spread(id, dimension string, values []review.GroupValue) string {
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
	title := outcomeOf(id).Title
	switch low {
	case nil:
		return title + ": too few dentures to compare."
	case high:
		return title + ": " + full(low.Estimate) + "."
	}
	s := fmt.Sprintf("%s: from %s (%s) to %s (%s)%s", title, figureOf(low.Estimate), value(dimension, low.Code),
		figureOf(high.Estimate), value(dimension, high.Code), unitAfter(high.Estimate))
	if low.Estimate.High >= high.Estimate.Low {
		return s + "; the intervals overlap, so the difference may be chance."
	}
	return s + "; the intervals do not overlap."
}

func unitAfter(e review.Estimate) string {
	if u := unitOf(e); u != "" {
		return " " + u
	}
	return ""
}

// coverage tells what the figures stand on.
func coverage(c review.Coverage) []string {
	period := "Records of " + isolated(c.FirstPeriod)
	if c.LastPeriod != c.FirstPeriod {
		period += " to " + c.LastPeriod
	}
	first := fmt.Sprintf("%s: %s of %s, %s, %s.", period, plural(c.Cases, "case"), plural(c.Patients, "patient"), plural(c.Sites, "site"), plural(c.Clinicians, "clinician"))
	second := fmt.Sprintf("%s delivered", plural(c.Delivered, "denture"))
	if c.MedianFollowUp.Known() {
		second += fmt.Sprintf(", followed for a median of %s days", number(c.MedianFollowUp, 0))
	}
	if told(c.FullYear) {
		second += fmt.Sprintf("; %s followed for a full year", figureOf(c.FullYear))
	}
	if told(c.Attended) {
		second += fmt.Sprintf("; %s with a planned visit in the first 90 days", figureOf(c.Attended))
	}
	return []string{first, second + "."}
}

// notes tells what the figures leave out.
func notes(c review.Coverage, given []string) []string {
	var out []string
	for _, n := range []struct {
		n    int64
		text string
	}{
		{c.Undelivered, "Dentures not delivered by the end of the records, which take no part: "},
		{c.NoArchVisits, "Visits that name no arch, given to neither denture: "},
		{c.BeforeDelivery, "Visits before delivery, which do not count: "},
		{c.SetAside, "Rows set aside on loading (“afterfit ask” lists them with the reason): "},
	} {
		if n.n > 0 {
			out = append(out, n.text+count(n.n)+".")
		}
	}
	return append(out, given...)
}

func plural(n int64, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return count(n) + " " + noun + "s"
}

// lesionLead tells how many places need a look.
func lesionLead(l []review.Lesion) string {
	check := 0
	for _, x := range l {
		if x.Level == "check" {
			check++
		}
	}
	s := plural(int64(len(l)), "place") + " sore at visits 14 or more days apart, with no review recorded"
	if check > 0 {
		s += fmt.Sprintf("; %d of them 21 or more days apart", check)
	}
	return s + ": check that each was examined."
}
