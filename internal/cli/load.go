package cli

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"afterfit/internal/bundle"
	"afterfit/internal/intake"
	"afterfit/internal/mapping"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

// loadHelp says what load does; what a mapping is made of follows it.
const loadHelp = `load reads a case bundle (see 'afterfit look --contract'): a folder of CSV files, also
gzipped or as Parquet, a zip of them, or one workbook with a sheet for each table. It
checks every cell and stores all of it in one transaction. Rows that cannot be kept are set aside with file,
line, column, value and reason ('afterfit ask set-aside' lists them); where more than
the limit of a table would be set aside, nothing is loaded. The balance printed at the
end accounts for every row read. Before anything is stored, every text column is looked
through for what could identify people; a finding refuses the load unless bundle.toml
clears that column with a reason. The same export again changes nothing; a newer export
of the same cases replaces them.

With --set-aside the rows set aside are also written out with all their cells and the
reason, as a workbook (FILE.xlsx) or a new folder of CSV files. Correct them there and
load that: the rows join the cases that they belong to. Correct them at their source
too, or the next export sets them aside again.

An export that was loaded before, byte for byte, changes nothing: it is older than what
came since. A case of which a new export says what the latest one said keeps the rows
that were corrected in between.

--list names every load, --explain N says what load N was made of and what became of
every row, --undo N takes it back: the store is as before it, and the ledger keeps that
it was made and undone. A load that a later one builds on can only be undone after that.

An export of another shape is loaded with --mapping FILE.

`

func newLoad(a *app) *cobra.Command {
	opt := intake.LoadOptions{SetAsideLimit: intake.DefaultSetAsideLimit}
	var asJSON bool
	var of ledgerFlags
	cmd := &cobra.Command{
		Use:     "load EXPORT",
		Short:   "Load a case bundle, all of it or nothing",
		Long:    loadHelp + mapping.Help,
		Example: "  afterfit load exports/2026-06\n  afterfit load exports/2026-06 --strict\n  afterfit load exports/2026-06 --set-aside to-correct.xlsx\n  afterfit load filled.xlsx\n  afterfit load exports/clinic --mapping clinic.toml\n  afterfit load --list\n  afterfit load --explain 1\n  afterfit load --undo 3",
		Args: func(cmd *cobra.Command, got []string) error {
			if of.any(cmd) && len(got) > 0 {
				return usageError{fmt.Errorf("--list, --explain and --undo speak of loads that were made and take no export, but %q is given", got[0])}
			}
			if of.any(cmd) {
				return nil
			}
			return args(cobra.ExactArgs(1))(cmd, got)
		},
		RunE: func(cmd *cobra.Command, got []string) error {
			if of.any(cmd) {
				return a.ledger(cmd, of, asJSON)
			}
			if opt.SetAsideLimit < 0 || opt.SetAsideLimit > 1 {
				return usageError{fmt.Errorf("--set-aside-limit is %g: give a share from 0 to 1, e.g. 0.05", opt.SetAsideLimit)}
			}
			s, st, err := a.begin(cmd.Context(), false)
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
	cmd.Flags().StringVar(&opt.SetAside, "set-aside", "", "write the rows set aside to `PATH`, to be corrected and loaded: a new folder, or a workbook if it ends in .xlsx")
	of.register(cmd)
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// load runs one load with progress and brings the linked table up to date.
func (a *app) load(ctx context.Context, st *store.Store, s settings, path string, opt intake.LoadOptions) (*intake.LoadResult, error) {
	bar := a.newProgress()
	defer bar.wait()
	opt.Progress, opt.LoadedAt, opt.TempDir = bar.step, time.Now(), s.Temp
	res, err := intake.Load(ctx, st, path, opt)
	if err != nil {
		return res, err // a result beside the error: stored, but not checkpointed
	}
	return res, relink(ctx, st, s)
}

// relink brings the linked table and the fingerprint up to date after a change of the store.
// A Ctrl-C by then comes too late to take the change back: the next command that needs
// them makes them, and what was done is reported.
func relink(ctx context.Context, st *store.Store, s settings) error {
	err := errors.Join(review.EnsureLinked(ctx, st, s.Review), review.Forget(ctx, st))
	if err == nil {
		_, err = st.KnownFingerprint(ctx)
	}
	if ctx.Err() != nil {
		return nil
	}
	return err
}

// printLoad writes the balance, what was superseded and the first rows set aside.
func (a *app) printLoad(res *intake.LoadResult) error {
	if res.SetAsideIn != "" {
		defer fmt.Fprintf(a.out, "The rows set aside are in %[1]s: correct them there, then 'afterfit load %[1]s'.\n", res.SetAsideIn)
	}
	if res.Unchanged {
		fmt.Fprintf(a.out, "This export is already in the store as load %d; nothing changed.\n", res.LoadID)
		if res.CasesSince > 0 {
			fmt.Fprintf(a.out, "Later loads replaced or withdrew %d of its cases, and stay: 'afterfit load --undo' takes a load back.\n", res.CasesSince)
		}
		return nil
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
	a.printOutcomes(res)
	for _, line := range []struct {
		n         int64
		one, many string
	}{
		{res.CasesChanged, "case of earlier loads was replaced by a newer version", "cases of earlier loads were replaced by newer versions"},
		{res.CasesUnchanged, "case was in the store already, unchanged", "cases were in the store already, unchanged"},
		{res.CasesHeld, "case is as in the latest export and was corrected since: the correction stays", "cases are as in the latest export and were corrected since: the corrections stay"},
		{res.Corrected, "row that an earlier load set aside is corrected now", "rows that an earlier load set aside are corrected now"},
		{res.StillAside, "row of that load is still set aside", "rows of that load are still set aside"},
		{res.CasesWithdrawn, "case of earlier loads is no longer in this complete export and was withdrawn", "cases of earlier loads are no longer in this complete export and were withdrawn"},
		{res.Flags, "unusual value was kept and flagged ('afterfit ask flags')", "unusual values were kept and flagged ('afterfit ask flags')"},
	} {
		if line.n > 0 {
			fmt.Fprintf(a.out, "%s.\n", bundle.Counted(line.n, line.one, line.many))
		}
	}
	a.printPrivacy(res.Note.Basis, res.Privacy, res.Cleared, &res.Risk)
	for _, f := range res.SetAside {
		fmt.Fprintf(a.out, "set aside: %s\n", f)
	}
	if res.MoreSetAside > 0 {
		fmt.Fprintf(a.out, "and %d more: 'afterfit ask set-aside' lists all.\n", res.MoreSetAside)
	}
	return nil
}
