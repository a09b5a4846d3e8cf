package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"afterfit/internal/bundle"
	"afterfit/internal/intake"
	"afterfit/internal/mapping"
)

// printSources says what became of every row of an export, in its own terms.
func (a *app) printSources(sources []mapping.Balance) error {
	if len(sources) == 0 {
		return nil
	}
	if err := a.printFiles(sources); err != nil {
		return err
	}
	uses := [][]string{}
	for _, b := range sources {
		for _, u := range b.Uses {
			uses = append(uses, append([]string{b.String(), u.Table}, counts(b.Data(), u.Turns, u.Made, u.Empty, u.Filtered)...))
		}
	}
	fmt.Fprintln(a.out, "What the tables made of them: data rows x sideways = rows made + empty + filtered out.")
	if err := printTable(a.out, []string{"file or sheet", "table", "data rows", "sideways", "rows made", "empty", "filtered out"}, uses); err != nil {
		return err
	}
	_, err := fmt.Fprintln(a.out)
	return err
}

// printFiles accounts for every row of every file or sheet.
func (a *app) printFiles(sources []mapping.Balance) error {
	rows, unmapped := [][]string{}, []string{}
	for _, b := range sources {
		rows = append(rows, append([]string{b.String()}, counts(b.Rows, b.Title, b.Header, b.Blank, b.Total, b.Used, b.LeftOut, b.NotMapped)...))
		if len(b.Columns) > 0 {
			unmapped = append(unmapped, fmt.Sprintf("Columns of %s that the mapping does not name: %s\n", b.SheetID, strings.Join(b.Columns, "; ")))
		}
	}
	fmt.Fprintln(a.out, "The export's rows. For every file or sheet: read = title + header + blank + totals + used + left out + not mapped.")
	if err := printTable(a.out, []string{"file or sheet", "read", "title", "header", "blank", "totals", "used", "left out", "not mapped"}, rows); err != nil {
		return err
	}
	_, err := fmt.Fprintln(a.out, strings.Join(unmapped, ""))
	return err
}

// printUnknown lists the words that the mapping has no code for.
func (a *app) printUnknown(unknown []mapping.UnknownCode) {
	for _, u := range unknown {
		fmt.Fprintf(a.out, "no code for %q in %s (%s.%s)\n", u.Word, bundle.Counted(u.Rows, "row", "rows"), u.Table, u.Column)
	}
}

// printTrial says what a mapping would make of an export.
func (a *app) printTrial(t *intake.Trial) error {
	if err := a.printSources(t.Sources); err != nil {
		return err
	}
	a.printUnknown(t.Unknown)
	rows := [][]string{}
	for _, tb := range t.Tables {
		rows = append(rows, append([]string{tb.Table}, counts(tb.Rows, tb.NotTurned)...))
	}
	if err := printTable(a.out, []string{"table", "rows", "of these with a cell that cannot be turned"}, rows); err != nil {
		return err
	}
	fmt.Fprintln(a.out)
	a.printPrivacy(t.Note.Basis, t.Privacy, t.Cleared, nil)
	return nil
}

// printExploration says what an export of another shape holds.
func (a *app) printExploration(e *intake.Exploration, path string) error {
	for _, s := range e.Sheets {
		fmt.Fprintf(a.out, "%s: %s of data", s.SheetID, bundle.Counted(s.Rows, "row", "rows"))
		if s.Header > 0 {
			fmt.Fprintf(a.out, ", header on line %d", s.Header)
		}
		if s.Encoding != "" {
			fmt.Fprintf(a.out, ", %s, %q between cells", s.Encoding, s.Delimiter)
		}
		if n := s.Rows - s.Distinct; n > 0 {
			fmt.Fprintf(a.out, ", of them %s", bundle.Counted(n, "exact repeat", "exact repeats"))
		}
		fmt.Fprintln(a.out)
		for _, title := range s.Title {
			fmt.Fprintf(a.out, "  above the header: %s\n", title)
		}
		for _, total := range s.Totals {
			fmt.Fprintf(a.out, "  looks like a total: %s\n", total)
		}
		rows := [][]string{}
		for _, c := range s.Columns {
			rows = append(rows, []string{c.Word, fmt.Sprintf("%.0f %%", 100*c.Filled), strconv.FormatInt(c.Distinct, 10), columnType(c), columnGuess(c), oddValues(c.Odd)})
		}
		if err := printTable(a.out, []string{"  column", "filled", "different", "holds", "may be", "odd values"}, indented(rows)); err != nil {
			return err
		}
		fmt.Fprintln(a.out)
	}
	if len(e.Skipped) > 0 {
		fmt.Fprintf(a.out, "No tables, passed over: %s\n", strings.Join(e.Skipped, ", "))
	}
	a.printSuspects(e.Privacy)
	_, err := fmt.Fprintf(a.out, "This is no case bundle: it needs a mapping. 'afterfit look %s --propose FILE' writes one to start from.\n", path)
	return err
}

func indented(rows [][]string) [][]string {
	for _, r := range rows {
		r[0] = "  " + r[0]
	}
	return rows
}

func columnType(c mapping.ColumnLook) string {
	switch {
	case c.Masked && c.Form == "" && c.Type != "empty":
		return c.Type + ", masked"
	case c.Form != "" && c.Also != "":
		return c.Type + " " + c.Form + " (or " + c.Also + ")"
	case c.Form != "":
		return c.Type + " " + c.Form
	case strings.HasSuffix(c.Type, "number"):
		text := fmt.Sprintf("%s, most %g to %g", c.Type, c.Low, c.High)
		if c.Comma {
			text += ", decimal comma"
		}
		return text
	case c.Type == "word":
		return "words: " + someValues(c.Values)
	}
	return c.Type
}

const shownValues = 5

func someValues(values []mapping.ValueCount) string {
	var words []string
	for i, v := range values {
		if i == shownValues {
			return strings.Join(words, ", ") + " ..."
		}
		words = append(words, v.Value)
	}
	return strings.Join(words, ", ")
}

func columnGuess(c mapping.ColumnLook) string {
	if c.Unit != "" {
		return c.Guess + " in " + c.Unit
	}
	return c.Guess
}

func oddValues(odd []mapping.ValueCount) string {
	var words []string
	for _, v := range odd {
		words = append(words, fmt.Sprintf("%q (%s)", v.Value, bundle.Counted(v.Rows, "row", "rows")))
	}
	return strings.Join(words, ", ")
}

// writeProposal writes a proposed mapping to a file that is not there yet: one
// that is may have been corrected by hand.
func writeProposal(path, text string) error {
	if _, err := os.Lstat(path); err == nil {
		return usageError{fmt.Errorf("%s is there already: name another file, or take it away first", path)}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return usageError{fmt.Errorf("%s cannot be written: %w", path, err)}
	}
	return writeBeside(path, func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	})
}
