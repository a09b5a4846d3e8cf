package page

import (
	"fmt"
	"strings"

	"afterfit/internal/chart"
	"afterfit/internal/review"
)

var mixNames = map[string]string{"arch": "arch", "ridge_class": "ridge class", "age_band": "age band", "sex": "sex", "prior_denture": "denture worn before", "course": "kind of treatment", "operator": "kind of operator"}

// caseMix shows the models behind every expected count: what they hold, how well they
// predict, and where they do not.
func caseMix(f *review.Findings, _ words) *section {
	if len(f.Mix) == 0 {
		return nil
	}
	m := f.Mix[0]
	s := &section{ID: "casemix", Title: "How is case mix taken out?", Lead: mixLead(m)}
	s.Notes = []string{"One Poisson model per outcome expects events from patient and arch alone: never from a habit, a site or a clinician, so that these can be judged by it. How well it predicts is checked on patients that it has not seen."}
	for _, x := range f.Mix {
		for _, text := range x.Warnings {
			s.Notes = append(s.Notes, outcomeOf(x.Model.Outcome).Title+": "+text)
		}
	}
	s.Figures = []figure{tenthsFigure(m), {ID: "mix-models", Table: mixSummary(f.Mix)}, {ID: "mix-levels", Table: mixLevels(f.Mix)}}
	return s
}

func mixLead(m review.MixFit) string {
	var terms []string
	for _, t := range m.Model.Terms {
		terms = append(terms, mixNames[t.Name])
	}
	s := fmt.Sprintf("Events are expected from %s, as seen in %s dentures of %s to %s", strings.Join(terms, ", "), count(m.Model.N), isolated(m.Model.First), isolated(m.Model.Last))
	if m.Saved {
		s += " by a saved standard"
	}
	if m.Concordance.Known() {
		s += fmt.Sprintf("; of two dentures with different numbers of %s, the model is right about which has more in %s of 100 pairs", strings.ToLower(outcomeOf(m.Model.Outcome).Title), number(100*m.Concordance, 0))
	}
	return s + "."
}

func tenthsFigure(m review.MixFit) figure {
	rows := make([]chart.Row, len(m.Tenths))
	for i, t := range m.Tenths {
		rows[i] = againstOne(fmt.Sprintf("Tenth %d, %s expected", t.Tenth, number(t.Expected, 0)), t.Ratio)
	}
	title := outcomeOf(m.Model.Outcome).Title + ": observed over expected, by tenth of expected"
	fig := drawnFigure("mix-tenths", title, "", func() (chart.Drawn, error) {
		return chart.Rows(rows, moreThanExpected, &chart.Rule{At: 0, Name: "as expected"}, title)
	})
	fig.Caption = "The first tenth holds the easiest cases. Predictions come from the other patients."
	return *fig
}

func mixSummary(all []review.MixFit) *table {
	t := &table{Caption: "Table: how well each model predicts", Head: []column{{"Outcome", false}, {"n", true}, {"Events", true}, {"Scatter of patients’ events", true}, {"Slope", true}, {"Interval", true}, {"Coefficients times", true}, {"Concordance", true}, {"Observed over expected", true}, {"Interval", true}, {"Left out or merged", false}}}
	for _, m := range all {
		t.Rows = append(t.Rows, []string{outcomeOf(m.Model.Outcome).Title, count(m.Model.N), count(m.Model.Events), number(m.Model.Dispersion, 2), number(m.Slope.Value, 2), ratioLimits(m.Slope), number(m.Model.Shrink, 2), number(m.Concordance, 2), number(m.Large.Value, 2), ratioLimits(m.Large), strings.Join(m.Notes, " ")})
	}
	return t
}

func mixLevels(all []review.MixFit) *table {
	t := &table{Screen: true, Caption: "Table: every level of every model", Head: []column{{"Outcome", false}, {"Characteristic", false}, {"Level", false}, {"Log ratio", true}, {"n", true}, {"Events", true}}}
	for _, m := range all {
		for _, term := range m.Model.Terms {
			for _, l := range term.Levels {
				name := value(term.Name, l.Level)
				if l.As != l.Level {
					name += ", counted as " + value(term.Name, l.As)
				}
				t.Rows = append(t.Rows, []string{outcomeOf(m.Model.Outcome).Title, sentenceCase(mixNames[term.Name]), sentenceCase(name), number(l.Coef, 2), count(l.N), count(l.Events)})
			}
		}
	}
	return t
}
