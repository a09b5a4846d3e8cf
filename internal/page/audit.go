package page

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"regexp"
	"strings"

	"afterfit/internal/review"
)

// Audit writes one case's page. With teach, what came after the records is folded
// away until the reader opens it, which works without script; on paper it stays as
// folded as it was on the screen. The same audit gives the same bytes.
func Audit(w io.Writer, a *review.Audit, teach bool, opt Options) error {
	return render(w, auditDoc(a, teach, opt.words()), opt.Static)
}

var plainID = regexp.MustCompile(`^[A-Z0-9][A-Z0-9_-]{0,63}$`)

// AuditFile names a case's file after its pseudonym and nothing else. An id with
// other signs than capitals, digits, dash and underscore is given by the start of its
// SHA-256 instead: not every file system takes or tells apart the rest.
func AuditFile(id string) string {
	if plainID.MatchString(id) {
		return "audit-" + id + ".html"
	}
	sum := sha256.Sum256([]byte("audit\x00" + id))
	return "audit-x" + hex.EncodeToString(sum[:6]) + ".html"
}

// hidden is what a teaching page hides until it is opened.
type hidden struct {
	Title, Summary string
	Sections       []section
}

func auditDoc(a *review.Audit, teach bool, w words) *doc {
	d := &doc{
		Title: "Case audit", Heading: "Case " + isolated(a.Case.ID), Kicker: "Case audit, for learning",
		About: About{a.Version, a.Fingerprint, a.Basis, a.AsOf, a.Invented}, Basis: basisName(a.Basis), Cautions: cautions,
		Opening: []string{caseSentence(a.Case)},
	}
	after := sectionsOf(a, w, auditTimeline, auditExpected, auditZones, auditPointers, auditLesions, auditSimilar, auditQuestions)
	if teach {
		d.Kicker = "Case audit, teaching form"
		d.Sections = append(sectionsOf(a, w, auditRecords, auditHabits, auditBefore), *auditMethod(a, w))
		d.Fold = &hidden{"What came after", "What came after: open this when you have made up your mind", after}
		return d
	}
	if picked := ruleSentence(a.Rule, a.Place); picked != "" {
		d.Opening = append(d.Opening, picked)
	}
	if len(a.Lesions) > 0 {
		d.Alert = &alert{lesionLead(a.Lesions), "lesions"}
	}
	d.Sections = append(append(after[:1:1], sectionsOf(a, w, auditRecords, auditHabits)...), after[1:]...)
	d.Sections = append(d.Sections, *auditMethod(a, w))
	return d
}

func sectionsOf(a *review.Audit, w words, builders ...func(*review.Audit, words) *section) []section {
	var out []section
	for _, build := range builders {
		if s := build(a, w); s != nil {
			out = append(out, *s)
		}
	}
	return out
}

// caseSentence tells what was known before delivery.
func caseSentence(c review.AuditCase) string {
	parts := []string{
		orNotRecorded("age band", isolated(c.AgeBand)), orNotRecorded("sex", isolated(c.Sex)),
		"ridge class " + ridgeClass(c.RidgeClass), orNotRecorded("prior denture", isolated(spaced(c.Prior))),
		orNotRecorded("course", isolated(spaced(c.Course))), operatorOf(c.Operator),
	}
	return "Known before delivery: " + strings.Join(parts, "; ") + "."
}

func operatorOf(code string) string {
	if w, ok := operators[code]; ok {
		return "records taken by " + w
	}
	return orNotRecorded("operator", isolated(spaced(code)))
}

func orNotRecorded(what, value string) string {
	if value == "" {
		return what + " not recorded"
	}
	return what + " " + value
}

func ridgeClass(n int64) string {
	if n < 1 {
		return "not recorded"
	}
	return count(n)
}

// auditTimeline answers what happened, and when.
func auditTimeline(a *review.Audit, _ words) *section {
	s := &section{ID: "timeline", Title: "What happened, and when?"}
	var told []string
	for _, d := range a.Dentures {
		told = append(told, dentureSentence(a, d))
	}
	s.Lead = strings.Join(told, " ")
	fig := figure{ID: "timeline-line", Title: "From the records to the end of observation", SVG: timelineSVG(a, s.Lead), Wide: true}
	fig.Caption = "Days are counted from the day of the records. Numbers over a visit are the sore spots seen there; an upright end is where following ended. A visit that names no denture stands on its own line."
	fig.Table = visitTable(a)
	s.Figures = append(s.Figures, fig)
	return s
}

// dentureSentence tells one denture's course.
func dentureSentence(a *review.Audit, d review.AuditDenture) string {
	if d.Delivered == nil || d.End == nil {
		return fmt.Sprintf("The %s was not delivered while the case was under observation.", d.Arch)
	}
	s := fmt.Sprintf("The %s was delivered on day %s and adjusted at %s in the first 90 days", d.Arch, count(*d.Delivered), plural(d.Visits, "visit"))
	for _, r := range a.Repairs {
		if r.Arch == d.Arch && r.Scope != "remake" {
			s += fmt.Sprintf(", %s on day %s", repairVerb(r.Scope), count(r.Day))
		}
	}
	if d.EndReason == "remade" {
		return s + fmt.Sprintf(", and remade on day %s.", count(*d.End))
	}
	return s + fmt.Sprintf("; it was followed to day %s (%s).", count(*d.End), endWord(d.EndReason))
}

func visitTable(a *review.Audit) *table {
	t := &table{Caption: "Table: every visit and piece of work", Head: []column{{"Day", true}, {"What", false}, {"Denture", false}, {"Why", false}, {"Adjusted", false}, {"Minutes", true},
		{"Complaints", false}, {"Sore spots", false}, {"Lesion review", false}}}
	t.Rows = append(t.Rows, []string{"0", "Records", "", "", "", "", "", "", ""})
	for _, day := range auditDays(a) {
		for _, d := range a.Dentures {
			if d.Delivered != nil && *d.Delivered == day {
				t.Rows = append(t.Rows, []string{count(day), "Delivery", sentenceCase(d.Arch), "", "", "", "", "", ""})
			}
		}
		for _, v := range a.Visits {
			if v.Day == day {
				t.Rows = append(t.Rows, visitRow(v))
			}
		}
		for _, r := range a.Repairs {
			if r.Day == day {
				t.Rows = append(t.Rows, []string{count(day), sentenceCase(r.Scope), sentenceCase(r.Arch), notEmpty(spaced(r.Cause)), "", "", "", "", ""})
			}
		}
	}
	end := "End of observation: " + endWord(a.Case.ObservedEnd)
	t.Rows = append(t.Rows, []string{count(a.Case.ObservedTo), end, "", "", "", "", "", "", ""})
	return t
}

func visitRow(v review.AuditVisit) []string {
	minutes := "–"
	if v.Minutes != nil {
		minutes = count(*v.Minutes)
	}
	spots := make([]string, len(v.Spots))
	for i, p := range v.Spots {
		spots[i] = spotText(p)
	}
	return []string{count(v.Day), "Visit " + count(int64(v.Number)), notEmpty(sentenceCase(v.Arch)), notEmpty(spaced(v.Reason)), map[bool]string{true: "yes", false: "no"}[v.Adjusted],
		minutes, listed(v.Complaints), strings.Join(spots, "; "), notEmpty(v.LesionReview)}
}

func spotText(p review.AuditSpot) string {
	s := placeName(p.Arch, p.Zone, p.Side)
	if p.Grade > 0 {
		s += ", " + spotGrade(p.Grade)
	}
	return s
}

// listed writes codes joined by bars as words joined by commas.
func listed(codes string) string {
	return notEmpty(spaced(strings.ReplaceAll(codes, "|", ", ")))
}

func notEmpty(s string) string {
	if s == "" {
		return "not recorded"
	}
	return s
}
