package page

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"regexp"
	"strings"

	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// Audit writes one case's page. With teach, what came after the records is folded
// away until the reader opens it, which works without script; on paper it stays as
// folded as it was on the screen. The same audit gives the same bytes.
func Audit(w io.Writer, a *review.Audit, teach bool, opt Options) error {
	return render(w, auditDoc(a, teach, opt.words()), opt.Static, opt.words())
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
		Title: w.Say("audit.title"), Heading: w.Say("audit.heading", "case", isolated(a.Case.ID)), Kicker: w.Say("audit.kicker"),
		About: About{a.Version, a.Fingerprint, a.Basis, w.Period(a.AsOf), a.Invented}, Basis: w.basisName(a.Basis), Cautions: w.cautions(),
		Opening: []string{w.caseSentence(a.Case)},
	}
	after := sectionsOf(a, w, auditTimeline, auditExpected, auditZones, auditPointers, auditLesions, auditSimilar, auditQuestions)
	if teach {
		d.Kicker = w.Say("audit.teaching")
		d.Sections = append(sectionsOf(a, w, auditRecords, auditHabits, auditBefore), *auditMethod(a, w))
		d.Fold = &hidden{w.Say("audit.after"), w.Say("audit.after_open"), after}
		return d
	}
	if picked := w.ruleSentence(a.Rule, a.Place); picked != "" {
		d.Opening = append(d.Opening, picked)
	}
	if len(a.Lesions) > 0 {
		d.Alert = &alert{w.lesionLead(a.Lesions), "lesions"}
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
func (w words) caseSentence(c review.AuditCase) string {
	class := ""
	if c.RidgeClass > 0 {
		class = w.count(c.RidgeClass)
	}
	operator, ok := w.Named("operator.*", c.Operator)
	if !ok {
		operator = w.Say("audit.operator", "code", w.known(c.Operator))
	}
	return w.Say("audit.known",
		"age", w.notEmpty(isolated(w.own(c.AgeBand))), "sex", w.notEmpty(isolated(w.own(c.Sex))), "class", w.known(class), "prior", w.known(c.Prior), "course", w.known(c.Course), "operator", operator)
}

// known is a code in words, or that it was not recorded.
func (w words) known(code string) string {
	if code == "" {
		return w.Say("word.not_recorded")
	}
	return w.codeApart(code)
}

// auditTimeline answers what happened, and when.
func auditTimeline(a *review.Audit, w words) *section {
	s := &section{ID: "timeline", Title: w.Say("timeline.title")}
	var told []string
	for _, d := range a.Dentures {
		told = append(told, w.dentureSentence(a, d))
	}
	s.Lead = strings.Join(told, " ")
	fig := figure{ID: "timeline-line", Title: w.Say("timeline.figure"), SVG: w.timelineSVG(a, s.Lead), Wide: true}
	fig.Caption = w.Say("timeline.caption")
	fig.Table = w.visitTable(a)
	s.Figures = append(s.Figures, fig)
	return s
}

// dentureSentence tells one denture's course.
func (w words) dentureSentence(a *review.Audit, d review.AuditDenture) string {
	if d.Delivered == nil || d.End == nil {
		return w.Say("timeline.not_delivered", "arch", w.own(d.Arch))
	}
	repairs := ""
	for _, r := range a.Repairs {
		if r.Arch == d.Arch && r.Scope != "remake" {
			repairs += w.Say("timeline.repair", "done", w.or("repair.*", r.Scope, isolated(spaced(r.Scope))), "day", r.Day)
		}
	}
	return w.Say("timeline.denture",
		"arch", w.own(d.Arch), "day", *d.Delivered, "visits", d.Visits, "repairs", repairs, "end", d.EndReason, "last", *d.End, "reason", w.endWord(d.EndReason))
}

func (w words) visitTable(a *review.Audit) *table {
	t := &table{Caption: w.caption(w.Say("timeline.table")), Head: w.columns("#day", "what", "denture", "why", "adjusted", "#minutes", "complaints", "sore_spots", "lesion_review")}
	t.Rows = append(t.Rows, []string{"0", w.Say("timeline.records"), "", "", "", "", "", "", ""})
	for _, day := range auditDays(a) {
		for _, d := range a.Dentures {
			if d.Delivered != nil && *d.Delivered == day {
				t.Rows = append(t.Rows, []string{w.count(day), w.Say("timeline.delivery"), sentenceCase(w.own(d.Arch)), "", "", "", "", "", ""})
			}
		}
		for _, v := range a.Visits {
			if v.Day == day {
				t.Rows = append(t.Rows, w.visitRow(v))
			}
		}
		for _, r := range a.Repairs {
			if r.Day == day {
				t.Rows = append(t.Rows, []string{w.count(day), sentenceCase(w.own(r.Scope)), sentenceCase(w.own(r.Arch)), w.notEmpty(w.code(r.Cause)), "", "", "", "", ""})
			}
		}
	}
	end := w.Say("timeline.end", "reason", w.endWord(a.Case.ObservedEnd))
	t.Rows = append(t.Rows, []string{w.count(a.Case.ObservedTo), end, "", "", "", "", "", "", ""})
	return t
}

func (w words) visitRow(v review.AuditVisit) []string {
	minutes := wording.None
	if v.Minutes != nil {
		minutes = w.count(*v.Minutes)
	}
	spots := make([]string, len(v.Spots))
	for i, p := range v.Spots {
		spots[i] = w.spotText(p)
	}
	return []string{w.count(v.Day), w.Say("timeline.visit", "n", v.Number), w.notEmpty(sentenceCase(w.own(v.Arch))), w.notEmpty(w.code(v.Reason)), w.yesNo(v.Adjusted),
		minutes, w.listed(v.Complaints), strings.Join(spots, "; "), w.notEmpty(w.own(v.LesionReview))}
}

func (w words) spotText(p review.AuditSpot) string {
	s := w.placeName(p.Arch, p.Zone, p.Side)
	if p.Grade > 0 {
		s = w.Say("timeline.spot", "place", s, "grade", w.spotGrade(p.Grade))
	}
	return s
}

// listed writes codes joined by bars as words joined by commas.
func (w words) listed(codes string) string {
	all := strings.Split(codes, "|")
	for i, c := range all {
		all[i] = w.code(c)
	}
	return w.notEmpty(strings.Join(all, ", "))
}

func (w words) notEmpty(s string) string {
	if s == "" {
		return w.Say("word.not_recorded")
	}
	return s
}

func (w words) yesNo(b bool) string {
	return w.Say("word.yes_no", "is", yes(b))
}
