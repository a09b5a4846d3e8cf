// Package queries embeds the SQL: one statement per file, named after what it
// answers. Each file's header states the question, the unit, the parameters and
// the columns with their order.
package queries

import (
	"embed"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"text/template"
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

var identifier = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)

// Name is the name of a column, for a statement that cannot take it as a parameter.
type Name struct{ text string }

// NameOf is the column called text. What is no plain name is a mistake of the program,
// and panics.
func NameOf(text string) Name {
	if !identifier.MatchString(text) {
		panic(fmt.Sprintf("queries: %q is no column", text))
	}
	return Name{text}
}

func (n Name) String() string { return n.text }

// Codes are the codes that a column may hold, each kept as its number: 1 for the first of
// them, 0 for none.
type Codes struct{ list []string }

// CodesOf are these codes. A code with a quote in it is a mistake of the program, and
// panics.
func CodesOf(codes ...string) Codes {
	if strings.Contains(strings.Join(codes, ""), "'") {
		panic(fmt.Sprintf("queries: %q are no codes", codes))
	}
	return Codes{codes}
}

// List are the codes in their order.
func (c Codes) List() []string { return c.list }

// String is the type of a column that holds one of them.
func (c Codes) String() string { return "ENUM" + c.in("(", ")") }

func (c Codes) in(open, close string) string {
	return open + "'" + strings.Join(c.list, "', '") + "'" + close
}

// No is the number of a code. One that is none of them is a mistake of the program, and
// panics.
func (c Codes) No(code string) int {
	i := slices.Index(c.list, code)
	if i < 0 {
		panic(fmt.Sprintf("queries: %q is none of %s", code, c))
	}
	return i + 1
}

// Of is the number of the code that a column of text holds, 0 where it holds none. Compared
// with few codes a text costs less than looked up among them.
func (c Codes) Of(column string) string { return c.number(column, 0) }

// Find is the number of the code that a column of text holds, NULL where it holds none. A
// column that is never NULL DuckDB looks up once for each code in a block.
func (c Codes) Find(column string) string {
	return "list_position(" + c.in("[", "]") + ", " + column + ")"
}

// Or is Of, with the number of another code where the column holds none.
func (c Codes) Or(column, other string) string { return c.number(column, c.No(other)) }

func (c Codes) number(column string, other int) string {
	var b strings.Builder
	b.WriteString("CASE " + column)
	for i, code := range c.list {
		fmt.Fprintf(&b, " WHEN '%s' THEN %d", code, i+1)
	}
	return fmt.Sprintf("%s ELSE %d END", b.String(), other)
}

// Text is the code that a number stands for, NULL for 0.
func (c Codes) Text(number string) string {
	var b strings.Builder
	b.WriteString("CASE " + number)
	for i, code := range c.list {
		fmt.Fprintf(&b, " WHEN %d THEN '%s'", i+1, code)
	}
	return b.String() + " END"
}

// Fill returns the statement in name.sql, which is a template of package text/template,
// filled with data: names, types, whole numbers and lists of them; nil is for a statement that is none. A template that does not take
// the data is a mistake of the program, and panics.
func Fill(name string, data any) string {
	if data == nil {
		return Text(name)
	}
	var b strings.Builder
	t := template.Must(template.New(name).Option("missingkey=error").Parse(Text(name)))
	if err := t.Execute(&b, data); err != nil {
		panic(fmt.Sprintf("queries: %v", err))
	}
	return b.String()
}
