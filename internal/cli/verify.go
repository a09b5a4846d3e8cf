package cli

import (
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"afterfit/internal/store"
)

func newVerify(a *app) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "verify",
		Short: "Check the store against its ledger and print its fingerprint",
		Long: `verify counts every table, sets the counts beside what the loads wrote down, and prints
the fingerprint of the content. Two stores with the same content have the same one.`,
		Example: "  afterfit verify\n  afterfit verify --json",
		Args:    args(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, st, err := a.begin(cmd.Context(), true)
			if err != nil {
				return err
			}
			defer st.Close()
			rep, err := st.Verify(cmd.Context())
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(a.out, rep)
			}
			if err := a.printVerify(rep); err != nil {
				return err
			}
			if len(rep.Problems) > 0 {
				return fmt.Errorf("%s does not agree with its ledger: restore a copy, or load the exports again into a new store: %w", s.Store, store.ErrUse)
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// printVerify writes the count of every table beside the ledger's, and what is wrong.
func (a *app) printVerify(rep store.Report) error {
	rows := make([][]string, len(rep.Tables))
	for i, t := range rep.Tables {
		rows[i] = append([]string{t.Name}, counts(t.Read, t.Now, t.SetAside, t.Repeats, t.History)...)
	}
	if err := printTable(a.out, []string{"table", "read", "now", "set aside", "repeats", "superseded"}, rows); err != nil {
		return err
	}
	for _, p := range rep.Problems {
		fmt.Fprintf(a.out, "problem: %s\n", p)
	}
	undone, mended := "", ""
	if rep.Undone > 0 {
		undone = fmt.Sprintf(" (%d of them undone)", rep.Undone)
	}
	if rep.Corrected > 0 {
		mended = fmt.Sprintf("rows set aside that came back corrected: %d\n", rep.Corrected)
	}
	_, err := fmt.Fprintf(a.out, "%sloads: %d%s\nfingerprint: %s\n", mended, rep.Loads, undone, rep.Fingerprint)
	return err
}

// counts writes whole numbers as cells.
func counts(values ...int64) []string {
	cells := make([]string, len(values))
	for i, v := range values {
		cells[i] = strconv.FormatInt(v, 10)
	}
	return cells
}
