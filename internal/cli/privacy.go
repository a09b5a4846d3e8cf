package cli

import (
	"fmt"
	"slices"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/intake"
	"afterfit/internal/privacy"
)

// printPrivacy says on which basis the data stand, what could identify people,
// what a person cleared, and how many cases stand alone.
func (a *app) printPrivacy(basis string, findings []privacy.Finding, cleared []privacy.Clearance, risk *privacy.Risk) {
	fmt.Fprintf(a.out, "Privacy basis: %s. These checks are a help; local law and whoever is responsible for privacy decide.\n", intake.BasisWords(privacy.Basis(basis)))
	a.printTurned(findings)
	for _, f := range findings {
		if f.Turned {
			continue
		}
		word := "to consider"
		if f.Stops {
			word = "stops a load"
		}
		fmt.Fprintf(a.out, "%s: %s\n", word, intake.PrivacyFault(f))
	}
	for _, c := range cleared {
		fmt.Fprintf(a.out, "cleared: %s.%s (%s): %s\n", c.Table, c.Column, c.Kind, c.Reason)
	}
	if risk != nil && risk.Unique > 0 {
		a.printRisk(*risk)
	}
}

// printTurned says in one line for each file and kind what was read but not stored.
func (a *app) printTurned(findings []privacy.Finding) {
	type group struct {
		file, remedy string
		kind         privacy.Kind
	}
	columns, order := map[group][]string{}, []group{}
	for _, f := range findings {
		if !f.Turned {
			continue
		}
		g := group{f.File, f.Remedy, f.Kind}
		if columns[g] == nil {
			order = append(order, g)
		}
		columns[g] = append(columns[g], f.Column)
	}
	for _, g := range order {
		fmt.Fprintf(a.out, "%s: %s: %s (%s)\n", g.file, g.kind.Words(), g.remedy, strings.Join(columns[g], "; "))
	}
}

// printSuspects says for an export without a mapping, and so without a basis, what
// could identify people: one line for each sheet and kind.
func (a *app) printSuspects(findings []privacy.Finding) {
	fmt.Fprintln(a.out, "These checks for what could identify people are a help; local law and whoever is responsible for privacy decide. Judged as strictly as the basis safe_harbor asks:")
	if len(findings) == 0 {
		fmt.Fprintln(a.out, "nothing was found.")
	}
	for i, f := range findings {
		same := func(g privacy.Finding) bool { return g.File == f.File && g.Kind == f.Kind }
		if slices.IndexFunc(findings, same) < i {
			continue
		}
		var columns []string
		for _, g := range findings {
			if same(g) {
				columns = append(columns, fmt.Sprintf("%s (%s, shaped like %q)", g.Column, bundle.Counted(g.Rows, "row", "rows"), g.Example))
			}
		}
		remedy := f.Remedy
		if f.Kind == privacy.Date {
			remedy = "a mapping turns dates into days counted from the records and, as the basis asks, into years"
		}
		fmt.Fprintf(a.out, "%s: %s, kind %s: %s: %s\n", f.File, f.Found, f.Kind, strings.Join(columns, "; "), remedy)
	}
}

// printRisk warns of small cells. It never stops a load: whether someone could
// be recognised depends on who reads the pages.
func (a *app) printRisk(r privacy.Risk) {
	fmt.Fprintf(a.out, "Small cells among %s: %d alone with their age band, sex, site, quarter and ridge class (k = 1), %d with fewer than four others.\n",
		bundle.Counted(r.Cases, "case", "cases"), r.Unique, r.Below5-r.Unique)
	if r.WithOutcome && r.SameOutcome > 0 {
		fmt.Fprintf(a.out, "In %s all who share these facts have the same outcome (l = 1: remade, relined or rebased, or not).\n", bundle.Counted(r.SameOutcome, "case", "cases"))
	}
	if m, ok := r.Mend(); ok {
		fmt.Fprintf(a.out, "With %s, %d would be alone.\n", m.What, m.Unique)
	}
}
