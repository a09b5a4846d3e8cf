package page

import (
	"html/template"
	"slices"
	"strings"
	"unicode/utf8"

	"afterfit/internal/chart"
	"afterfit/internal/review"
	"afterfit/internal/wording"
)

// mostHabitCourses is how many courses of habits a pack draws; the table has them all.
const mostHabitCourses = 6

// habitCourses draws the habits that did not stay steady, those that someone set out
// to change first, and lists all.
func habitCourses(f *review.Findings, w words) *figure {
	fig := &figure{ID: "steady-habits", Title: w.Say("habit_time.title")}
	t := &table{Screen: true, Caption: w.caption(w.Say("habit_time.table")), Head: w.columns("habit", "where", "#share", "#n", "not_steady_because_of", "#signals_by_chance")}
	var broken []review.TimeChart
	charts, byChance, unit := 0, 0.0, ""
	for _, c := range f.HabitTimes {
		if !c.Center.Known() {
			continue
		}
		t.Rows = append(t.Rows, habitCourseRow(c, w))
		if c.Dimension != "all" {
			if len(c.Broken) > 0 {
				broken = append(broken, c)
			}
			continue
		}
		charts++
		if c.FalseSignal.Known() {
			byChance += float64(c.FalseSignal)
		}
		if len(c.Broken) > 0 {
			broken = append(broken, c)
		}
		unit = c.Fineness
	}
	if charts == 0 {
		return nil
	}
	slices.SortStableFunc(broken, func(a, b review.TimeChart) int { return setOut(f, b) - setOut(f, a) })
	var svg strings.Builder
	for _, c := range broken[:min(mostHabitCourses, len(broken))] {
		svg.WriteString(chart.DrawCourse(w.Catalogue, habitCourse(c, f.Changes, w)))
	}
	all := 0
	for _, c := range broken {
		if c.Dimension == "all" {
			all++
		}
	}
	fig.Lead = w.Say("habit_time.lead", "habits", charts, "changed", all, "chance", w.number(review.Num(byChance), 0))
	fig.SVG, fig.Table = template.HTML(svg.String()), t
	fig.Caption = w.Say("habit_time.caption", "unit", unit)
	return fig
}

// setOut is 1 for a habit that a stated change was to move.
func setOut(f *review.Findings, t review.TimeChart) int {
	for _, c := range f.Changes {
		if t.Outcome == review.HabitPrefix+c.Change.What {
			return 1
		}
	}
	return 0
}

func (w words) whereOf(t review.TimeChart) string {
	if t.Dimension == "all" {
		return w.Say("habit_time.whole")
	}
	return isolated(t.Code)
}

func habitCourseRow(t review.TimeChart, w words) []string {
	var n, with int64
	for _, p := range t.Points {
		n, with = n+p.N, with+p.Observed
	}
	said, chance := w.Say("habit_time.steady"), wording.None
	if len(t.Broken) > 0 {
		said = strings.Join(w.brokenRules(t), "; ")
	}
	if t.FalseSignal.Known() {
		chance = w.Percent(w.number(100*t.FalseSignal, 0))
	}
	return []string{w.habit(strings.TrimPrefix(t.Outcome, review.HabitPrefix)), w.whereOf(t), w.Percent(w.number(review.Num(100*float64(with)/float64(n)), 1)), w.count(n), said, chance}
}

// widestUnit is how many characters fit above a small chart.
const widestUnit = 50

// shortened is a text that must fit, with its first part cut where it does not.
func shortened(text, first string, most int) string {
	over, letters := utf8.RuneCountInString(text)-most, []rune(first)
	if over <= 0 || over+1 >= len(letters) {
		return text
	}
	return string(letters[:len(letters)-over-1]) + "…" + strings.TrimPrefix(text, first)
}

func habitCourse(t review.TimeChart, changes []review.ChangeResult, w words) chart.Course {
	habit, name := w.habit(strings.TrimPrefix(t.Outcome, review.HabitPrefix)), ""
	name = w.Say("habit_time.at", "habit", habit, "where", w.whereOf(t))
	c := w.course(t, changesAt(t, changes))
	c.Small, c.Unit, c.Title = true, shortened(w.Say("habit_time.unit", "name", name), habit, widestUnit), w.Say("sentence.about", "about", name, "said", strings.Join(w.brokenRules(t), "; "))
	return c
}

// changesAt are the changes whose mark belongs on a chart of a site, or of all.
func changesAt(t review.TimeChart, changes []review.ChangeResult) []review.ChangeResult {
	if t.Dimension == "all" {
		return changes
	}
	var here []review.ChangeResult
	for _, c := range changes {
		if slices.Contains(c.Change.Where, t.Code) || slices.Contains(c.Change.Where, review.Everywhere) {
			here = append(here, c)
		}
	}
	return here
}
