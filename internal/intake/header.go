package intake

import (
	"fmt"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/privacy"
)

// checkHeader refuses a header that the contract does not know: DuckDB maps the
// columns of a CSV by position and checks no names.
func checkHeader(t bundle.Table, sh *Sheet) error {
	fault := func(column, found, remedy string) error {
		return Fault{Table: t.Name, File: sh.File, Line: sh.HeadLine, Column: privacy.SafeHeader(column), Found: found, Remedy: remedy}
	}
	missing := missingColumns(t, sh.Header)
	seen := map[string]bool{}
	for i, name := range sh.Header {
		if strings.TrimSpace(name) == "" {
			return fault("", fmt.Sprintf("column %d without a name", i+1), "name the column or take it out")
		}
		if seen[name] {
			return fault(name, "the name twice in the header", "keep one of the two columns")
		}
		seen[name] = true
		if _, ok := t.Column(name); !ok && !contains(AsideColumns, name) {
			return fault(name, "an unknown column", suggest(name, missing, "rename it to %s", "take it out of "+t.Name))
		}
	}
	for _, name := range missing {
		if c, _ := t.Column(name); c.Required {
			return fault(name, "no such column", "add it; "+t.Name+" cannot do without "+name+" ("+c.Meaning+")")
		}
	}
	return nil
}

// missingColumns lists the contract's columns that a header does not have.
func missingColumns(t bundle.Table, header []string) []string {
	names := []string{}
	for _, name := range t.Names() {
		if !contains(header, name) {
			names = append(names, name)
		}
	}
	return names
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}
