package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"afterfit/internal/review"
	"afterfit/internal/tables"
)

func newAsk(a *app) *cobra.Command {
	var format, out string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "ask [QUESTION]",
		Short: "List the questions, or answer one as a table, CSV, JSON, Parquet or workbook",
		Long: `ask without a question lists what can be asked. With one it prints the answer: as a
table for people, or as CSV or JSON for a spreadsheet or a program. With --out it writes
a file, whose ending says the format if --format does not. Parquet and workbooks need one.

A text that a spreadsheet would run as a formula is led by an apostrophe in CSV and is a
text cell in a workbook.`,
		Example: "  afterfit ask\n  afterfit ask set-aside --format csv\n  afterfit ask groups --out groups.xlsx\n  afterfit ask dentures --format parquet --out dentures.parquet",
		Args:    args(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, got []string) error {
			if asJSON {
				format = "json"
			}
			chosen, err := answerFormat(format, out)
			if err != nil {
				return err
			}
			return a.toPlace(out, func(w io.Writer) error {
				if len(got) == 0 {
					return writeAnswer(w, chosen, tables.About{Name: "questions", Text: "what can be asked"}, listQuestions)
				}
				return a.answer(cmd, w, got[0], chosen)
			})
		},
	}
	cmd.Flags().StringVar(&format, "format", "", "table, csv, json, parquet or xlsx (default from the ending of --out, else table)")
	cmd.Flags().StringVarP(&out, "out", "o", "", "write a `FILE` instead of printing")
	cmd.Flags().BoolVar(&asJSON, "json", false, "the same as --format json")
	return cmd
}

// answerFormat is the format asked for, or the one that the file's ending says.
func answerFormat(format, out string) (string, error) {
	if format == "" {
		format = "table"
		if ending := strings.TrimPrefix(filepath.Ext(out), "."); slices.Contains(tables.Formats, ending) {
			format = ending
		} else if out != "" {
			return "", usageError{fmt.Errorf("--out %s: the ending says no format: end it in .%s, or give --format", out, strings.Join(tables.Formats, ", ."))}
		}
	}
	if format != "table" && !slices.Contains(tables.Formats, format) {
		return "", usageError{fmt.Errorf("--format is %q: give table, csv, json, parquet or xlsx", format)}
	}
	if out == "" && (format == "parquet" || format == "xlsx") {
		return "", usageError{fmt.Errorf("--format %s writes a file that no terminal can show: name it with --out", format)}
	}
	return format, nil
}

// toPlace writes a file beside its place, or prints where none is named.
func (a *app) toPlace(path string, write func(io.Writer) error) error {
	if path == "" {
		return write(a.out)
	}
	return writeBeside(path, write)
}

func listQuestions(into tables.Sink) error {
	if err := into.Head([]tables.Column{{Name: "question"}, {Name: "answers"}}); err != nil {
		return err
	}
	for _, q := range review.Questions() {
		if err := into.Row([]string{q.Name, q.Text}); err != nil {
			return err
		}
	}
	return nil
}

func (a *app) answer(cmd *cobra.Command, w io.Writer, name, format string) error {
	name = strings.ReplaceAll(name, "_", "-") // as findings spell it
	all := review.Questions()
	at := slices.IndexFunc(all, func(q review.Question) bool { return q.Name == name })
	if at < 0 {
		return usageError{fmt.Errorf("there is no question %q; 'afterfit ask' lists them", name)}
	}
	s, st, err := a.begin(cmd.Context(), true)
	if err != nil {
		return err
	}
	defer st.Close()
	return writeAnswer(w, format, all[at].About(), func(into tables.Sink) error {
		return review.Answer(cmd.Context(), st, s.Review, name, nil, into)
	})
}

// writeAnswer writes what fill gives, as a table for people or in one of the formats.
func writeAnswer(w io.Writer, format string, about tables.About, fill func(tables.Sink) error) error {
	if format != "table" {
		return fillFile(w, format, about, fill)
	}
	t := &tables.Table{}
	if err := fill(t); err != nil {
		return err
	}
	for _, r := range t.Rows {
		for i := range r {
			if r[i] = strings.NewReplacer("\t", " ", "\n", " ").Replace(r[i]); t.Columns[i].Kind == tables.Number && len(r[i]) > 6 {
				if x, err := strconv.ParseFloat(r[i], 64); err == nil {
					r[i] = strconv.FormatFloat(x, 'g', 6, 64)
				}
			}
		}
	}
	return printTable(w, tables.Names(t.Columns), t.Rows)
}
