// Package queries embeds the SQL: one statement per file, named after what it
// answers. Each file's header states the question, the unit, the parameters and
// the columns with their order.
package queries

import (
	"embed"
	"fmt"
	"regexp"
	"strings"
)

// FS holds every statement.
//
//go:embed *.sql
var FS embed.FS

// Text returns the statement in name.sql. A name that does not exist is a
// mistake of the program, and a test names every file, so it panics.
func Text(name string) string {
	b, err := FS.ReadFile(name + ".sql")
	if err != nil {
		panic(fmt.Sprintf("queries: %v", err))
	}
	return string(b)
}

var identifier = regexp.MustCompile(`^([a-z]\.)?[a-z][a-z0-9_]*$`)

// With returns the statement in name.sql with each {place} taken by the columns named
// for it, joined by commas: a statement cannot take a column as a parameter. A
// name that is no plain column is a mistake of the program, and panics; so does a
// place that nothing fills.
func With(name string, places map[string][]string) string {
	text := Text(name)
	for place, columns := range places {
		for _, c := range columns {
			if !identifier.MatchString(c) {
				panic(fmt.Sprintf("queries: %s: %q is no column", name, c))
			}
		}
		text = strings.ReplaceAll(text, "{"+place+"}", strings.Join(columns, ", "))
	}
	if i := strings.IndexByte(text, '{'); i >= 0 {
		panic(fmt.Sprintf("queries: %s: nothing fills %.20s", name, text[i:]))
	}
	return text
}
