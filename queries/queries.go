// Package queries embeds the SQL: one statement per file, named after what it
// answers. Each file's header states the question, the unit, the parameters and
// the columns with their order.
package queries

import (
	"embed"
	"fmt"
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
