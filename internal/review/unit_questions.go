package review

import "strings"

// besideQuestions are those that are cut from what is judged against case mix.
func besideQuestions() []Question {
	return []Question{
		{Name: "units", Text: "sites, clinicians and laboratories beside what their case mix predicts", table: unitRows, columns: with("outcome", "dimension", "code", "expected", "z", "flag", "flag_spread", "figure")},
		{Name: "data-checks", Text: "completeness, follow-up, same-day visits and digit preference of each unit", table: checkRows, columns: with("dimension", "code", "check", "all", "odd")},
		{Name: "funnel", Text: "the funnel's limits by expected events", table: funnelRows, columns: []string{"outcome", "dimension", "expected", "low_95", "high_95", "low_998", "high_998", "unit", "query"}},
		{Name: "casemix", Text: "the case-mix models: level by level", table: mixTable, columns: []string{"outcome", "term", "level", "counted_as", "log_ratio", "n", "events", "query"}},
		{Name: "calibration", Text: "how well the case-mix models predict, by tenth and in all", table: calibrationRows, columns: with("outcome", "part", "expected")},
		{Name: "monthly", Text: "every control chart, period by period", table: timeRows, columns: []string{"outcome", "dimension", "code", "period", "n", "observed", "expected", "value", "low", "high", "due", "immature", "beyond", "broken_rules", "unit", "query"}},
		{Name: "habits-monthly", Text: "the share of each habit, period by period", table: habitTimeRows, columns: []string{"habit", "dimension", "code", "period", "n", "with", "share", "low", "high", "beyond", "broken_rules", "unit", "query"}},
		{Name: "cusum", Text: "the evidence for a raised rate, period by period", table: cusumRows, columns: []string{"outcome", "dimension", "code", "period", "observed", "expected", "sum", "limit", "run_length", "immature", "signal", "query"}},
		{Name: "change", Text: "what became of each change that the settings state", table: changeTable, columns: with("change", "from", "measure", "figure")},
		{Name: "how-long", Text: "how many more dentures and months would show a stated difference", table: knowRows, columns: []string{"outcome", "clinician", "ratio", "dentures_needed", "dentures", "dentures_per_month", "months"}},
	}
}

func unitRows(f *Findings) (rows [][]any) {
	for _, t := range f.Units {
		for _, u := range t.Units {
			lead := []any{t.Outcome, t.Dimension, u.Code, u.Expected, u.Z, u.Flag, u.FlagSpread}
			rows = append(rows, append(append([]any{}, lead...), "ratio", u.Ratio), append(append([]any{}, lead...), "shrunk", u.Shrunk))
		}
	}
	return rows
}

func checkRows(f *Findings) (rows [][]any) {
	seen := map[groupKey]bool{}
	for _, t := range f.Units {
		for _, u := range t.Units {
			if k := (groupKey{t.Dimension, u.Code}); !seen[k] {
				seen[k] = true
				for _, c := range u.Checks.Named() {
					rows = append(rows, []any{t.Dimension, u.Code, c.Name, c.Check.All, c.Check.Odd, c.Check.Own})
				}
			}
		}
	}
	return rows
}

// NamedCheck is one data check with its id.
type NamedCheck struct {
	Name  string
	Check Check
}

// Named are the checks in the order that readers see them.
func (c DataChecks) Named() []NamedCheck {
	return []NamedCheck{{"complete", c.Complete}, {"followed", c.Followed}, {"attended", c.Attended}, {"same_day", c.Twice}, {"ends_0_or_5", c.OnFive}}
}

func funnelRows(f *Findings) (rows [][]any) {
	for _, t := range f.Units {
		for _, c := range t.Curve {
			rows = append(rows, []any{t.Outcome, t.Dimension, c.Expected, c.NearLow, c.NearHigh, c.FarLow, c.FarHigh, "observed over expected", t.Query})
		}
	}
	return rows
}

func mixTable(f *Findings) (rows [][]any) {
	for _, m := range f.Mix {
		rows = append(rows, []any{m.Model.Outcome, "(intercept)", "", "", m.Model.Intercept, m.Model.N, m.Model.Events, "mix_patterns"})
		for _, t := range m.Model.Terms {
			for _, l := range t.Levels {
				rows = append(rows, []any{m.Model.Outcome, t.Name, l.Level, l.As, l.Coef, l.N, l.Events, "mix_patterns"})
			}
		}
	}
	return rows
}

func calibrationRows(f *Findings) (rows [][]any) {
	for _, m := range f.Mix {
		for _, t := range m.Tenths {
			rows = append(rows, []any{m.Model.Outcome, "tenth " + string(rune('0'+t.Tenth%10)), t.Expected, t.Ratio})
		}
		concordance := Estimate{Value: m.Concordance, N: m.Model.N, Events: m.Model.Events, Unit: "concordance"}
		rows = append(rows, []any{m.Model.Outcome, "in all", "", m.Large}, []any{m.Model.Outcome, "slope", "", m.Slope}, []any{m.Model.Outcome, "concordance", "", concordance})
	}
	return rows
}

func timeRows(f *Findings) (rows [][]any) {
	for _, t := range f.Times {
		for _, p := range t.Points {
			rows = append(rows, []any{t.Outcome, t.Dimension, t.Code, p.Period, p.N, p.Observed, p.Expected, p.Value, p.Low, p.High, p.Due, p.Immature, p.Beyond, strings.Join(t.Broken, "|"), per100, t.Query})
		}
	}
	return rows
}

func habitTimeRows(f *Findings) (rows [][]any) {
	for _, t := range f.HabitTimes {
		for _, p := range t.Points {
			rows = append(rows, []any{strings.TrimPrefix(t.Outcome, HabitPrefix), t.Dimension, t.Code, p.Period, p.N, p.Observed, p.Value, p.Low, p.High, p.Beyond, strings.Join(t.Broken, "|"), "%", t.Query})
		}
	}
	return rows
}

func cusumRows(f *Findings) (rows [][]any) {
	for _, c := range f.Cusums {
		signals := map[string]bool{}
		for _, s := range c.Signals {
			signals[s] = true
		}
		for _, p := range c.Points {
			rows = append(rows, []any{c.Outcome, c.Dimension, c.Code, p.Period, p.Observed, p.Expected, p.Value, c.Limit, c.RunLength, p.Immature, signals[p.Period], c.Query})
		}
	}
	return rows
}

func changeTable(f *Findings) (rows [][]any) {
	for _, c := range f.Changes {
		for _, e := range c.Estimates {
			lead := []any{c.Change.Name, c.Change.From, e.Measure}
			add := func(figure string, e Estimate) { rows = append(rows, append(append([]any{}, lead...), figure, e)) }
			add("places before", e.Places[0])
			add("places after", e.Places[1])
			add("others before", e.Others[0])
			add("others after", e.Others[1])
			add("ratio", e.Ratio)
			for _, p := range e.Placebos {
				add("placebo "+p.From, p.Ratio)
			}
		}
	}
	return rows
}

func knowRows(f *Findings) (rows [][]any) {
	add := func(k Know) {
		rows = append(rows, []any{k.Outcome, k.Code, Num(k.Ratio), k.Need, k.Have, k.Pace, k.Months})
	}
	for _, k := range f.Know {
		add(k)
	}
	for _, t := range f.Units {
		for _, u := range t.Units {
			if u.Know != nil {
				add(*u.Know)
			}
		}
	}
	return rows
}
