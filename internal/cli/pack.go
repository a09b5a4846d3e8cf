package cli

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"afterfit/internal/page"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

func newPack(a *app) *cobra.Command {
	var out string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "pack",
		Short: "Write the meeting pack, one HTML page",
		Long: `pack answers the questions of a quality-review meeting from the store and writes them
as one HTML page that needs no network. --json prints the findings instead.`,
		Example: "  afterfit pack --out meeting.html\n  afterfit pack --json > findings.json",
		Args:    args(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := a.settings()
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
			if asJSON {
				return printJSON(a.out, f)
			}
			if err := writePack(out, f); err != nil {
				return err
			}
			_, err = fmt.Fprintf(a.out, "%s: %d cases, %d dentures delivered\n", out, f.Coverage.Cases, f.Coverage.Delivered)
			return err
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", "pack.html", "the `FILE` to write")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the findings as JSON and write no page")
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

func writePack(path string, f *review.Findings) error {
	return writeBeside(path, func(w io.Writer) error { return page.Pack(w, f, pageOptions()) })
}
