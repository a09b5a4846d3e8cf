package cli

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"afterfit/internal/bundle"
	"afterfit/internal/intake"
	"afterfit/internal/mapping"
	"afterfit/internal/store"
)

// ledgerFlags ask load about loads that were made, in place of an export.
type ledgerFlags struct {
	list          bool
	explain, undo int64
}

func (f *ledgerFlags) register(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.list, "list", false, "list every load")
	cmd.Flags().Int64Var(&f.explain, "explain", 0, "say what load `N` was made of")
	cmd.Flags().Int64Var(&f.undo, "undo", 0, "take load `N` back")
}

func (f *ledgerFlags) any(cmd *cobra.Command) bool {
	return cmd.Flags().Changed("list") || cmd.Flags().Changed("explain") || cmd.Flags().Changed("undo")
}

// ledger answers one of the questions about loads that were made.
func (a *app) ledger(cmd *cobra.Command, f ledgerFlags, asJSON bool) error {
	ctx, asked := cmd.Context(), 0
	for _, name := range []string{"list", "explain", "undo", "mapping", "set-aside", "set-aside-limit", "strict"} {
		if cmd.Flags().Changed(name) {
			asked++
		}
	}
	if asked > 1 {
		return usageError{errors.New("--list, --explain and --undo: give one of them, and nothing of an export")}
	}
	s, st, err := a.begin(ctx, true)
	if err != nil {
		return err
	}
	defer st.Close()
	switch {
	case cmd.Flags().Changed("undo"):
		u, err := st.Undo(ctx, f.undo, time.Now())
		var refused *store.UndoRefusal
		if errors.As(err, &refused) {
			return usageError{err}
		}
		if err == nil {
			err = relink(ctx, st, s)
		}
		if u == nil || err != nil {
			return err
		}
		return show(a, asJSON, a.printUndone)(u, nil)
	case cmd.Flags().Changed("explain"):
		e, err := st.Explain(ctx, f.explain)
		if err == nil && e == nil {
			return usageError{fmt.Errorf("there is no load %d: 'afterfit load --list' lists them", f.explain)}
		}
		return show(a, asJSON, a.printExplanation)(e, err)
	}
	return show(a, asJSON, a.printLoads)(st.Loads(ctx))
}

func (a *app) printUndone(u *store.Undone) error {
	fmt.Fprintf(a.out, "Load %d is undone; the ledger keeps that it was made.\n", u.LoadID)
	rows := [][]string{}
	for _, t := range u.Tables {
		rows = append(rows, append([]string{t.Table}, counts(t.TakenOut, t.PutBack)...))
	}
	return printTable(a.out, []string{"table", "its rows taken out", "older rows put back"}, rows)
}

// moment writes when something was done, "-" where that was not noted.
func moment(t *time.Time) string {
	if t == nil {
		return "-"
	}
	return t.UTC().Format("2006-01-02 15:04")
}

func (a *app) printLoads(list []store.LoadInfo) error {
	rows := [][]string{}
	for _, l := range list {
		state := "stands"
		if l.Undone {
			state = "undone " + moment(l.UndoneAt)
		}
		rows = append(rows, append([]string{strconv.FormatInt(l.LoadID, 10), moment(l.LoadedAt), l.Source, l.Mapping}, append(counts(l.Read, l.Kept, l.SetAside, l.Corrected), state)...))
	}
	if err := printTable(a.out, []string{"load", "when (UTC)", "export", "mapping", "read", "kept", "set aside", "corrected", "state"}, rows); err != nil {
		return err
	}
	_, err := fmt.Fprintln(a.out, "'afterfit load --explain N' says what load N was made of.")
	return err
}

// printExplanation writes all that the ledger has of a load.
func (a *app) printExplanation(e *store.Explanation) error {
	a.printNature(e)
	if e.HasFiles {
		sources := []mapping.Balance{}
		for _, f := range e.Files {
			b := mapping.Balance{SheetID: mapping.SheetID{File: f.File}, Source: f.Source, Rows: f.Read, Title: f.Title, Header: f.Header, Blank: f.Blank, Total: f.Total, Used: f.Used, LeftOut: f.LeftOut, NotMapped: f.NotMapped}
			if f.Columns != "" {
				b.Columns = strings.Split(f.Columns, "; ")
			}
			sources = append(sources, b)
		}
		if err := a.printFiles(sources); err != nil {
			return err
		}
	} else {
		fmt.Fprintln(a.out, "The version that made this load noted neither its files nor what it builds on.")
	}
	outcomes := []intake.Outcome{}
	for _, r := range e.Rows {
		o := intake.Outcome{File: r.File, Table: r.Table, Made: r.Made, Kept: r.Kept, Newer: r.Newer, SetAside: r.SetAside, Repeats: r.Repeats}
		for _, why := range e.Reasons {
			if why.File == r.File && why.Table == r.Table {
				o.Reasons = append(o.Reasons, intake.ReasonCount{Column: why.Column, Reason: why.Reason, Rows: why.Rows})
			}
		}
		outcomes = append(outcomes, o)
	}
	if err := a.printRows(outcomes); err != nil {
		return err
	}
	rows := [][]string{}
	for _, b := range e.Tables {
		rows = append(rows, append([]string{b.Table}, counts(b.Read, b.Kept, b.SetAside, b.Repeats, b.Superseded)...))
	}
	fmt.Fprintln(a.out, "For every table: read = kept + set aside + repeats.")
	return printTable(a.out, []string{"table", "read", "kept", "set aside", "repeats", "older rows superseded"}, rows)
}

// printNature says what kind of load it was and how it stands to the others.
func (a *app) printNature(e *store.Explanation) {
	fmt.Fprintf(a.out, "Load %d of %s, %s", e.LoadID, e.Source, moment(e.LoadedAt))
	if e.Mapping != "" {
		fmt.Fprintf(a.out, ", turned by %s (SHA-256 %.12s...)", e.Mapping, e.MappingOf)
	}
	fmt.Fprintf(a.out, ". Content SHA-256 %.12s...\n", e.SHA256)
	basis := e.Basis
	if basis == "" {
		basis = "not stated"
	}
	nature := []string{"Privacy basis: " + basis}
	for _, k := range []struct {
		is   bool
		word string
	}{{e.Invented, "invented data"}, {e.Complete, "complete: absent cases were withdrawn"}, {e.Adds, "adds rows and replaces none"}} {
		if k.is {
			nature = append(nature, k.word)
		}
	}
	fmt.Fprintln(a.out, strings.Join(nature, "; ")+".")
	for _, k := range e.Cleared {
		fmt.Fprintf(a.out, "cleared: %s.%s (%s): %s\n", k.Table, k.Column, k.Kind, k.Reason)
	}
	if e.Undone {
		fmt.Fprintf(a.out, "Undone %s: nothing of it stands in the store; what follows is how it was.\n", moment(e.UndoneAt))
	}
	if e.SetAside > 0 && !e.Undone {
		fmt.Fprintf(a.out, "Of %s set aside, %d came back corrected.\n", bundle.Counted(e.SetAside, "row", "rows"), e.Corrected)
	}
	if e.Replaced > 0 {
		fmt.Fprintf(a.out, "It replaced or withdrew %s of earlier loads.\n", bundle.Counted(e.Replaced, "case", "cases"))
	}
	if e.Since > 0 {
		fmt.Fprintf(a.out, "Later loads replaced or withdrew %d of its cases.\n", e.Since)
	}
	if len(e.BuildsOn) > 0 {
		fmt.Fprintf(a.out, "It builds on load %s.\n", listed(e.BuildsOn))
	}
	if len(e.Needed) > 0 {
		fmt.Fprintf(a.out, "Load %s builds on it and would have to be undone first.\n", listed(e.Needed))
	}
}

func listed(loads []int64) string { return strings.Join(counts(loads...), ", ") }

// printOutcomes says for each file what became of the rows that it gave, where that
// is more than the balance of the tables says.
func (a *app) printOutcomes(res *intake.LoadResult) {
	if res.Sources == nil {
		if res.MoreSetAside > 0 { // else every row is named below
			a.printReasons(res.Outcomes)
		}
		return
	}
	fmt.Fprintln(a.out)
	_ = a.printRows(res.Outcomes) // the terminal's own errors show at the end
}

// printRows writes what became of the rows of each file and table.
func (a *app) printRows(outcomes []intake.Outcome) error {
	if len(outcomes) == 0 {
		return nil
	}
	rows := [][]string{}
	for _, o := range outcomes {
		rows = append(rows, append([]string{o.File, o.Table}, counts(o.Made, o.Kept, o.Newer, o.SetAside, o.Repeats)...))
	}
	fmt.Fprintln(a.out, "What became of the rows of each file or sheet: rows = kept + set aside + repeats.")
	if err := printTable(a.out, []string{"file or sheet", "table", "rows", "kept", "of these newer versions", "set aside", "repeats"}, rows); err != nil {
		return err
	}
	a.printReasons(outcomes)
	_, err := fmt.Fprintln(a.out)
	return err
}

// printReasons counts the rows set aside by their reason.
func (a *app) printReasons(outcomes []intake.Outcome) {
	for _, o := range outcomes {
		for _, r := range o.Reasons {
			column := r.Column
			if column != "" {
				column = " column " + column + ":"
			}
			fmt.Fprintf(a.out, "%s, %s: %d set aside:%s %s\n", o.File, o.Table, r.Rows, column, r.Reason)
		}
	}
}
