package cli

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"afterfit/internal/intake"
	"afterfit/internal/mapping"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

func newLoad(a *app) *cobra.Command {
	opt := intake.LoadOptions{SetAsideLimit: intake.DefaultSetAsideLimit}
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "load EXPORT",
		Short: "Load a case bundle, all of it or nothing",
		Long: `load reads a folder of CSV files (see 'afterfit look --contract'), checks every cell,
and stores it in one transaction. Rows that cannot be kept are set aside with file,
line, column, value and reason ('afterfit ask set-aside' lists them); where more than
the limit of a table would be set aside, nothing is loaded. The balance printed at the
end accounts for every row read. The same export again changes nothing; a newer export
of the same cases replaces them.

An export of another shape is loaded with --mapping FILE.

` + mapping.Help,
		Example: "  afterfit load exports/2026-06\n  afterfit load exports/2026-06 --strict\n  afterfit load exports/clinic --mapping clinic.toml",
		Args:    args(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, got []string) error {
			if opt.SetAsideLimit < 0 || opt.SetAsideLimit > 1 {
				return usageError{fmt.Errorf("--set-aside-limit is %g: give a share from 0 to 1, e.g. 0.05", opt.SetAsideLimit)}
			}
			s, err := a.settings()
			if err != nil {
				return err
			}
			st, err := a.open(cmd.Context(), s, false)
			if err != nil {
				return err
			}
			defer st.Close()
			res, err := a.load(cmd.Context(), st, s, got[0], opt)
			if res == nil {
				return err
			}
			show := a.printLoad
			if asJSON {
				show = func(res *intake.LoadResult) error { return printJSON(a.out, res) }
			}
			return errors.Join(show(res), err)
		},
	}
	cmd.Flags().StringVar(&opt.Mapping, "mapping", "", "mapping `FILE` that says what the export calls things")
	cmd.Flags().Float64Var(&opt.SetAsideLimit, "set-aside-limit", opt.SetAsideLimit, "largest `SHARE` of a table's rows that may be set aside")
	cmd.Flags().BoolVar(&opt.Strict, "strict", false, "refuse the load when any row would be set aside")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// load runs one load with progress and brings the linked table up to date.
func (a *app) load(ctx context.Context, st *store.Store, s settings, path string, opt intake.LoadOptions) (*intake.LoadResult, error) {
	bar := a.newProgress()
	defer bar.wait()
	opt.Progress, opt.LoadedAt = bar.step, time.Now()
	res, err := intake.Load(ctx, st, path, opt)
	if err != nil {
		return res, err // a result beside the error: stored, but not checkpointed
	}
	return res, review.EnsureLinked(ctx, st, s.Review)
}

// printLoad writes the balance, what was superseded and the first rows set aside.
func (a *app) printLoad(res *intake.LoadResult) error {
	if res.Unchanged {
		_, err := fmt.Fprintf(a.out, "This export is already in the store as load %d; nothing changed.\n", res.LoadID)
		return err
	}
	if err := a.printSources(res.Sources); err != nil {
		return err
	}
	a.printUnknown(res.Unknown)
	rows := make([][]string, len(res.Balance))
	for i, b := range res.Balance {
		rows[i] = append([]string{b.Table}, counts(b.Read, b.Kept, b.SetAside, b.Repeats, b.Superseded)...)
	}
	fmt.Fprintf(a.out, "Load %d. For every table: read = kept + set aside + repeats.\n", res.LoadID)
	if err := printTable(a.out, []string{"table", "read", "kept", "set aside", "repeats", "older rows superseded"}, rows); err != nil {
		return err
	}
	for _, line := range []struct {
		n    int64
		text string
	}{
		{res.CasesChanged, "%d cases of earlier loads were replaced by newer versions.\n"},
		{res.CasesUnchanged, "%d cases were in the store already, unchanged.\n"},
		{res.CasesWithdrawn, "%d cases of earlier loads are no longer in this complete export and were withdrawn.\n"},
		{res.Flags, "%d unusual values were kept and flagged ('afterfit ask flags').\n"},
	} {
		if line.n > 0 {
			fmt.Fprintf(a.out, line.text, line.n)
		}
	}
	for _, f := range res.SetAside {
		fmt.Fprintf(a.out, "set aside: %s\n", f)
	}
	if res.MoreSetAside > 0 {
		fmt.Fprintf(a.out, "and %d more: 'afterfit ask set-aside' lists all.\n", res.MoreSetAside)
	}
	return nil
}
