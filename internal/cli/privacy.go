package cli

import (
	"fmt"

	"afterfit/internal/intake"
	"afterfit/internal/privacy"
)

// printPrivacy says on which basis the data stand, what could identify people,
// what a person cleared, and how many cases stand alone.
func (a *app) printPrivacy(basis string, findings []privacy.Finding, cleared []privacy.Clearance, risk *privacy.Risk) {
	fmt.Fprintf(a.out, "Privacy basis: %s. These checks are a help; local law and whoever is responsible for privacy decide.\n", intake.BasisWords(privacy.Basis(basis)))
	for _, f := range findings {
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

// printRisk warns of small cells. It never stops a load: whether someone could
// be recognised depends on who reads the pages.
func (a *app) printRisk(r privacy.Risk) {
	fmt.Fprintf(a.out, "Small cells: %d of %d cases are alone with their age band, sex, site, quarter and ridge class (k = 1), %d share them with fewer than four others.\n",
		r.Unique, r.Cases, r.Below5-r.Unique)
	if r.WithOutcome && r.SameOutcome > 0 {
		fmt.Fprintf(a.out, "In %d cases all who share these facts have the same outcome (l = 1: remade, relined or rebased, or not).\n", r.SameOutcome)
	}
	if m, ok := r.Mend(); ok {
		fmt.Fprintf(a.out, "With %s, %d would be alone.\n", m.What, m.Unique)
	}
}
