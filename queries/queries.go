// Package queries embeds the SQL: one statement per file, named after what it
// answers. Each file's header states the question, the unit, the parameters and
// the columns with their order.
package queries

import (
	"embed"
	"fmt"
	"regexp"
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

// Codes is the type of a column that holds one of a list of codes, kept as a number.
type Codes struct {
	text string
	list []string
}

// CodesOf is the type that holds the codes. A code with a quote in it is a mistake of
// the program, and panics.
func CodesOf(codes ...string) Codes {
	text := strings.Join(codes, "', '")
	if strings.Count(text, "'") != 2*len(codes)-2 {
		panic(fmt.Sprintf("queries: %q are no codes", codes))
	}
	return Codes{"ENUM('" + text + "')", codes}
}

// List are the codes in their order: the first is kept as 0.
func (c Codes) List() []string { return c.list }

func (c Codes) String() string { return c.text }

// Of is the code that a column of text holds, NULL where it holds none. Compared with few
// codes a text costs less than looked up among them.
func (c Codes) Of(column string) string {
	var b strings.Builder
	b.WriteString("CASE " + column)
	for _, code := range c.list {
		fmt.Fprintf(&b, " WHEN '%s' THEN %s", code, c.one(code))
	}
	return b.String() + " END"
}

// Or is Of, with another code where the column holds none.
func (c Codes) Or(column, other string) string {
	return strings.TrimSuffix(c.Of(column), " END") + " ELSE " + c.one(other) + " END"
}

func (c Codes) one(code string) string { return "CAST('" + code + "' AS " + c.text + ")" }

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
