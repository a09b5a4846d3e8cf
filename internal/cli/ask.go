package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"afterfit/internal/review"
)

func newAsk(a *app) *cobra.Command {
	var format string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "ask [QUESTION]",
		Short: "List the questions, or answer one as a table, CSV or JSON",
		Long: `ask without a question lists what can be asked. With one it prints the answer: as a
table for people, or as CSV or JSON for a spreadsheet or a program.`,
		Example: "  afterfit ask\n  afterfit ask set-aside --format csv",
		Args:    args(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, got []string) error {
			if asJSON {
				format = "json"
			}
			if format != "table" && format != "csv" && format != "json" {
				return usageError{fmt.Errorf("--format is %q: give table, csv or json", format)}
			}
			if len(got) == 0 {
				return a.listQuestions(format)
			}
			return a.answer(cmd, got[0], format)
		},
	}
	cmd.Flags().StringVar(&format, "format", "table", "table, csv or json")
	cmd.Flags().BoolVar(&asJSON, "json", false, "the same as --format json")
	return cmd
}

func (a *app) listQuestions(format string) error {
	t := &review.Table{Columns: []string{"question", "answers"}}
	for _, q := range review.Questions() {
		t.Rows = append(t.Rows, []string{q.Name, q.Text})
	}
	return a.printAnswer(t, format)
}

func (a *app) answer(cmd *cobra.Command, name, format string) error {
	name = strings.ReplaceAll(name, "_", "-") // as findings spell it
	if !knownQuestion(name) {
		return usageError{fmt.Errorf("there is no question %q; 'afterfit ask' lists them", name)}
	}
	s, st, err := a.begin(cmd.Context(), true)
	if err != nil {
		return err
	}
	defer st.Close()
	t, err := review.Ask(cmd.Context(), st, s.Review, name)
	if err != nil {
		return err
	}
	return a.printAnswer(t, format)
}

func knownQuestion(name string) bool {
	for _, q := range review.Questions() {
		if q.Name == name {
			return true
		}
	}
	return false
}

// printAnswer writes the table; cells are text already, so JSON holds one object
// per row in the order of the columns.
func (a *app) printAnswer(t *review.Table, format string) error {
	switch format {
	case "csv":
		return printCSV(a.out, t)
	case "json":
		rows := make([]map[string]string, len(t.Rows))
		for i, r := range t.Rows {
			rows[i] = map[string]string{}
			for j, c := range t.Columns {
				rows[i][c] = r[j]
			}
		}
		return printJSON(a.out, rows)
	}
	for _, r := range t.Rows {
		for i := range r {
			r[i] = strings.NewReplacer("\t", " ", "\n", " ").Replace(r[i])
		}
	}
	return printTable(a.out, t.Columns, t.Rows)
}
