package cli

import (
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"afterfit/internal/bundle"
	"afterfit/internal/intake"
)

func newLook(a *app) *cobra.Command {
	var contract, asJSON bool
	cmd := &cobra.Command{
		Use:   "look EXPORT",
		Short: "Read an export without storing it: what it holds and what is missing",
		Long: `look reads a case bundle, stores nothing, and says for every table how many rows it
has, which columns are there, missing or unknown, how full each one is, and what could
identify people.
--contract prints what a case bundle is made of.`,
		Example: "  afterfit look exports/2026-06\n  afterfit look --contract",
		Args: func(cmd *cobra.Command, got []string) error {
			want := 1
			if contract {
				want = 0
			}
			return args(cobra.ExactArgs(want))(cmd, got)
		},
		RunE: func(cmd *cobra.Command, got []string) error {
			if contract {
				return bundle.Describe(a.out)
			}
			rep, err := intake.Look(cmd.Context(), got[0])
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(a.out, rep)
			}
			return a.printLook(rep)
		},
	}
	cmd.Flags().BoolVar(&contract, "contract", false, "print the tables, columns, codes and ranges of a case bundle")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// printLook says for every table what a load would find.
func (a *app) printLook(rep *intake.LookReport) error {
	rows := [][]string{}
	for _, t := range rep.Tables {
		state := "ready"
		switch {
		case t.Problem != "":
			state = t.Problem
		case !t.Present && t.Required:
			state = "missing, and needed"
		case !t.Present:
			state = "absent (optional)"
		case t.Rejected > 0:
			state = fmt.Sprintf("%d rows cannot be cut into cells", t.Rejected)
		}
		rows = append(rows, []string{t.Table, strconv.FormatInt(t.Rows, 10), strconv.Itoa(len(t.Columns)), strconv.Itoa(len(t.Missing)), state})
	}
	if err := printTable(a.out, []string{"table", "rows", "columns", "not there", "state"}, rows); err != nil {
		return err
	}
	fills := [][]string{}
	for _, t := range rep.Tables {
		for _, c := range t.Columns {
			word := ""
			if !c.Known {
				word = "unknown to the contract"
			}
			fills = append(fills, []string{t.Table, c.Name, fmt.Sprintf("%.0f %%", 100*c.Filled), word})
		}
		for _, m := range t.Missing {
			if t.Present {
				fills = append(fills, []string{t.Table, m, "-", "not there: not recorded"})
			}
		}
	}
	if len(fills) == 0 {
		return nil
	}
	fmt.Fprintln(a.out)
	if err := printTable(a.out, []string{"table", "column", "filled", ""}, fills); err != nil {
		return err
	}
	fmt.Fprintln(a.out)
	a.printPrivacy(rep.Note.Basis, rep.Privacy, nil, rep.Risk)
	return nil
}
