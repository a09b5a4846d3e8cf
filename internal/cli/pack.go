package cli

import (
	"context"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"afterfit/internal/page"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

func newPack(a *app) *cobra.Command {
	var out, standard, saveTo, since, sheet string
	var asJSON, label, static bool
	cmd := &cobra.Command{
		Use:   "pack",
		Short: "Write the meeting pack, one HTML page",
		Long: `pack answers the questions of a quality-review meeting from the store and writes them
as one HTML page that needs no network. --json prints the findings instead; keep them,
and the next review can say with --since what changed. --save-standard keeps the
case-mix models, so that --standard judges a later period by them.`,
		Example: "  afterfit pack --out meeting.html --hand-out hand-out.html\n  afterfit pack --json > findings.json\n  afterfit pack --since findings.json",
		Args:    args(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
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
			if asJSON {
				return printJSON(a.out, f)
			}
			opt := pageOptions()
			opt.LabelClinicians, opt.Static = label, static
			if err := writePack(out, f, opt); err != nil {
				return err
			}
			if sheet != "" {
				if err := writeBeside(sheet, func(w io.Writer) error { return page.HandOut(w, f, opt) }); err != nil {
					return err
				}
			}
			_, err = fmt.Fprintf(a.out, "%s: %d cases, %d dentures delivered\n", out, f.Coverage.Cases, f.Coverage.Delivered)
			return err
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", "pack.html", "the `FILE` to write")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the findings as JSON and write no page")
	cmd.Flags().StringVar(&sheet, "hand-out", "", "write a hand-out of one sheet to this `FILE` too")
	cmd.Flags().StringVar(&since, "since", "", "compare with an earlier review: a `FILE` that pack --json printed")
	cmd.Flags().StringVar(&standard, "standard", "", "judge by the case-mix models saved in this `FILE`")
	cmd.Flags().StringVar(&saveTo, "save-standard", "", "save the case-mix models used to this `FILE`")
	cmd.Flags().BoolVar(&static, "static", false, staticHelp)
	cmd.Flags().BoolVar(&label, "label-clinicians", false, "name clinicians on the page; for the quality lead alone")
	return cmd
}

// findings runs the review; a store without a delivered denture has nothing to report.
func (a *app) findings(ctx context.Context, st *store.Store, s settings) (*review.Findings, error) {
	f, err := review.Run(ctx, st, s.Review, a.header())
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

func writePack(path string, f *review.Findings, opt page.Options) error {
	return writeBeside(path, func(w io.Writer) error { return page.Pack(w, f, opt) })
}
