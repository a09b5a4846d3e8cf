package cli

import (
	"context"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"afterfit/internal/bundle"
	"afterfit/internal/page"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

func newPack(a *app) *cobra.Command {
	var out, standard, saveTo, since, tablesDir, sheet string
	var asJSON, label, static bool
	var sharing shareOptions
	cmd := &cobra.Command{
		Use:   "pack",
		Short: "Write the meeting pack, one HTML page",
		Long: `pack answers the questions of a quality-review meeting from the store and writes them
as one HTML page that needs no network. --json prints the findings instead; keep them,
and the next review can say with --since what changed. --save-standard keeps the
case-mix models, so that --standard judges a later period by them. --tables writes every
table beside it: CSV, JSON, Parquet, and one workbook.

--share writes a page for outside the building instead: figures of 1 to 10 people are
hidden, with others, so that they cannot be worked out; numbers are rounded, periods are
years, sites have fresh codes, and single cases and clinicians are left out. --json and
--tables then hold the same and nothing more. Local rules come first.`,
		Example: "  afterfit pack --out meeting.html --hand-out hand-out.html\n  afterfit pack --json > findings.json\n  afterfit pack --since findings.json\n  afterfit pack --tables taken\n  afterfit pack --share --out shared.html --seed spring-2026",
		Args:    args(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			sharing.out, sharing.tables, sharing.json = out, tablesDir, asJSON
			if err := sharing.check(cmd); err != nil {
				return err
			}
			s, err := a.settings()
			if err != nil {
				return err
			}
			if standard != "" {
				s.Standard = standard
				if err := s.readStandard(); err != nil {
					return err
				}
			}
			earlier, err := readFindings(since)
			if err != nil {
				return err
			}
			st, err := a.open(cmd.Context(), s, true)
			if err != nil {
				return err
			}
			defer st.Close()
			if sharing.on {
				return a.share(cmd.Context(), st, s, sharing)
			}
			f, err := a.findings(cmd.Context(), st, s)
			if err != nil {
				return err
			}
			if earlier != nil {
				f.Since = review.Compare(earlier, f)
			}
			if saveTo != "" {
				if err := writeBeside(saveTo, func(w io.Writer) error { return printJSON(w, review.SavedStandard(f)) }); err != nil {
					return err
				}
			}
			if tablesDir != "" {
				if err := writeTables(tablesDir, everyTable(cmd.Context(), st, s, f)); err != nil {
					return err
				}
			}
			if asJSON {
				return printJSON(a.out, f)
			}
			opt := s.pageOptions()
			opt.LabelClinicians, opt.Static = label, static
			if err := a.writePack(cmd.Context(), out, f, opt); err != nil {
				return err
			}
			if sheet != "" {
				if err := writeBeside(sheet, func(w io.Writer) error { return page.HandOut(w, f, opt) }); err != nil {
					return err
				}
			}
			_, err = fmt.Fprintf(a.out, "%s: %s, %s delivered\n", out, bundle.Counted(f.Coverage.Cases, "case", "cases"), bundle.Counted(f.Coverage.Delivered, "denture", "dentures"))
			return err
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", "pack.html", "the `FILE` to write")
	cmd.Flags().BoolVar(&a.fresh, "fresh", false, freshHelp)
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the findings as JSON and write no page")
	cmd.Flags().StringVar(&sheet, "hand-out", "", "write a hand-out of one sheet to this `FILE` too")
	cmd.Flags().StringVar(&tablesDir, "tables", "", "also write every table into this `FOLDER`: CSV, JSON, Parquet, and one workbook")
	cmd.Flags().BoolVar(&sharing.on, "share", false, "write the share form, for outside the building (default FILE shared.html)")
	cmd.Flags().StringVar(&sharing.seed, "seed", "", "any secret `TEXT` that decides the sites' fresh codes in the share form (default drawn and printed)")
	cmd.Flags().StringVar(&since, "since", "", "compare with an earlier review: a `FILE` that pack --json printed")
	cmd.Flags().StringVar(&standard, "standard", "", "judge by the case-mix models saved in this `FILE`")
	cmd.Flags().StringVar(&saveTo, "save-standard", "", "save the case-mix models used to this `FILE`")
	cmd.Flags().BoolVar(&static, "static", false, staticHelp)
	cmd.Flags().BoolVar(&label, "label-clinicians", false, "name clinicians on the page; for the quality lead alone")
	for _, f := range []string{"hand-out", "static"} { // the share form is a page of its own
		cmd.MarkFlagsMutuallyExclusive("share", f)
	}
	return cmd
}

// freshHelp tells what --fresh does, for every command that takes findings.
const freshHelp = "work everything out anew, also where the store keeps the findings of the same loads, settings and program"

// findings runs the review, or takes what the store keeps of the same one; a store without a delivered denture has nothing to report.
func (a *app) findings(ctx context.Context, st *store.Store, s settings) (*review.Findings, error) {
	bar := a.newProgress()
	defer bar.wait()
	h := a.header()
	h.Progress = bar.review
	f, err := review.Reviewed(ctx, st, s.Review, h, a.fresh)
	if err != nil {
		return nil, err
	}
	if f.Coverage.Delivered == 0 {
		return nil, fmt.Errorf("no delivered denture in %s, so there is nothing to follow: load an export with delivery days: %w", s.Store, errNothing)
	}
	return f, nil
}

// readFindings reads the findings of an earlier review; "" names none.
func readFindings(path string) (*review.Findings, error) {
	if path == "" {
		return nil, nil
	}
	raw, err := os.ReadFile(path)
	if err != nil {
		return nil, usageError{fmt.Errorf("earlier findings: %w", err)}
	}
	f, err := review.ReadFindings(raw)
	if err != nil {
		return nil, usageError{fmt.Errorf("earlier findings %s: %w", path, err)}
	}
	return f, nil
}

// writePack writes the page, unless the user has had enough by then.
func (a *app) writePack(ctx context.Context, path string, f *review.Findings, opt page.Options) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	bar := a.newProgress()
	defer bar.wait()
	bar.review("writing the page", 0, 1)
	return writeBeside(path, func(w io.Writer) error { return page.Pack(w, f, opt) })
}
