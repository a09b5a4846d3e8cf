package tables

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"
)

// csvFile writes CSV (RFC 4180, UTF-8, lines that end in a line feed).
type csvFile struct {
	w     *csv.Writer
	kinds []Column
	safe  []string
}

func newCSV(w io.Writer) *csvFile { return &csvFile{w: csv.NewWriter(w)} }

func (c *csvFile) Head(columns []Column) error {
	c.kinds, c.safe = columns, make([]string, len(columns))
	return c.w.Write(Names(columns))
}

func (c *csvFile) Row(cells []string) error {
	for i, cell := range cells {
		if c.safe[i] = cell; c.kinds[i].Kind == Text {
			c.safe[i] = Defuse(cell)
		}
	}
	return c.w.Write(c.safe)
}

func (c *csvFile) Close() error {
	c.w.Flush()
	return c.w.Error()
}

// formulaStarts are the characters with which a spreadsheet may begin to reckon, those
// of full width among them.
const formulaStarts = "=+-@\t\r\n＝＋－＠"

// Defuse leads a text that a spreadsheet would run as a formula by an apostrophe. A
// plain negative number is left as it is.
func Defuse(cell string) string {
	first, _ := utf8.DecodeRuneInString(cell)
	if cell == "" || !strings.ContainsRune(formulaStarts, first) {
		return cell
	}
	if rest, minus := strings.CutPrefix(cell, "-"); minus && plainNumber(rest) {
		return cell
	}
	return "'" + cell
}

// plainNumber reports whether a text is digits with at most one point among them.
func plainNumber(s string) bool {
	whole, part, _ := strings.Cut(s, ".")
	return whole+part != "" && strings.Trim(whole, "0123456789") == "" && strings.Trim(part, "0123456789") == ""
}

// jsonFile writes an array with an object a row, keys in the order of the columns.
type jsonFile struct {
	w       *bufio.Writer
	keys    []string
	columns []Column
	rows    int
}

func newJSON(w io.Writer) *jsonFile { return &jsonFile{w: bufio.NewWriter(w)} }

func (j *jsonFile) Head(columns []Column) error {
	j.columns = columns
	for _, c := range columns {
		key, err := json.Marshal(c.Name)
		if err != nil {
			return err
		}
		j.keys = append(j.keys, string(key))
	}
	_, err := j.w.WriteString("[")
	return err
}

func (j *jsonFile) Row(cells []string) error {
	line := "\n  {"
	if j.rows > 0 {
		line = ",\n  {"
	}
	for i, cell := range cells {
		value, err := jsonCell(j.columns[i], cell)
		if err != nil {
			return err
		}
		if i > 0 {
			line += ", "
		}
		line += j.keys[i] + ": " + value
	}
	j.rows++
	_, err := j.w.WriteString(line + "}")
	return err
}

// jsonCell is a cell as JSON: nothing is null.
func jsonCell(c Column, cell string) (string, error) {
	switch {
	case cell == "":
		return "null", nil
	case c.Kind == Text:
		b, err := json.Marshal(cell)
		return string(b), err
	case c.Kind == YesNo && (cell == "true" || cell == "false"), c.Kind != YesNo && json.Valid([]byte(cell)):
		return cell, nil
	}
	return "", notOfKind(c, cell)
}

func (j *jsonFile) Close() error {
	end := "\n]\n"
	if j.rows == 0 {
		end = "]\n"
	}
	if _, err := j.w.WriteString(end); err != nil {
		return err
	}
	return j.w.Flush()
}

func notOfKind(c Column, cell string) error {
	return fmt.Errorf("column %s holds numbers or yes/no, and found %s", c.Name, strconv.Quote(cell))
}
