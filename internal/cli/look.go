package cli

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"afterfit/internal/bundle"
	"afterfit/internal/intake"
	"afterfit/internal/mapping"
)

func newLook(a *app) *cobra.Command {
	var contract, asJSON bool
	var mappingPath, propose string
	cmd := &cobra.Command{
		Use:   "look EXPORT",
		Short: "Read an export without storing it: what it holds and what is missing",
		Long: `look reads an export and stores nothing. Of a case bundle it says for every table how
many rows it has, which columns are there, missing or unknown, how full each is, and
what could identify people. Of any other export it says what its sheets and columns hold
and what they may be, and --propose writes a mapping to start from. With --mapping it
says what that mapping would make of the export. --contract prints what a case bundle is
made of.`,
		Example: "  afterfit look exports/2026-06\n  afterfit look --contract\n  afterfit look exports/clinic --propose proposed.toml\n  afterfit look exports/clinic --mapping clinic.toml",
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
			switch {
			case mappingPath != "" && propose != "":
				return usageError{errors.New("--mapping and --propose: give one of the two")}
			case mappingPath != "":
				return show(a, asJSON, a.printTrial)(intake.Try(cmd.Context(), got[0], mappingPath))
			case propose != "" || !intake.IsBundle(cmd.Context(), got[0]):
				return a.explore(cmd.Context(), got[0], propose, asJSON)
			}
			return show(a, asJSON, a.printLook)(intake.Look(cmd.Context(), got[0]))
		},
	}
	cmd.Flags().StringVar(&mappingPath, "mapping", "", "say what the mapping in `FILE` would make of the export")
	cmd.Flags().StringVar(&propose, "propose", "", "write a proposed mapping to `FILE`")
	cmd.Flags().BoolVar(&contract, "contract", false, "print the tables, columns, codes and ranges of a case bundle")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// show prints what a look found, as JSON or for people.
func show[T any](a *app, asJSON bool, print func(T) error) func(T, error) error {
	return func(found T, err error) error {
		switch {
		case err != nil:
			return err
		case asJSON:
			return printJSON(a.out, found)
		}
		return print(found)
	}
}

// explore looks at an export of any shape and writes the mapping proposed for it.
func (a *app) explore(ctx context.Context, path, propose string, asJSON bool) error {
	e, err := intake.Explore(ctx, path)
	if err != nil {
		return err
	}
	if propose != "" {
		if err := writeProposal(propose, e.Proposal); err != nil {
			return err
		}
	}
	if asJSON {
		return printJSON(a.out, e)
	}
	if err := a.printExploration(e, path); err != nil || propose == "" {
		return err
	}
	blanks := strings.Count(e.Proposal, mapping.BlankMark) - 1 // one in the heading
	_, err = fmt.Fprintf(a.out, "A proposed mapping stands in %s, with %s marked %s. Read every guess, then: afterfit look %s --mapping %s\n", propose, bundle.Counted(blanks, "blank", "blanks"), mapping.BlankMark, path, propose)
	return err
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
			state = bundle.Counted(t.Rejected, "row", "rows") + " cannot be cut into cells"
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
