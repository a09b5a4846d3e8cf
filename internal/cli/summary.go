package cli

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"sync"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"afterfit/internal/bundle"
	"afterfit/internal/page"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

func newSummary(a *app) *cobra.Command {
	var out string
	var asJSON, static bool
	cmd := &cobra.Command{
		Use:   "summary [CODE...]",
		Short: "Write the private per-clinician summaries",
		Long: `summary writes one HTML page for each clinician code, or for all when none is named,
and an index for whoever hands them out. File names do not tell who a page is for.
A summary is private feedback; it is not for disciplinary use on its own.`,
		Example: "  afterfit summary --out summaries\n  afterfit summary D03 --json",
		RunE: func(cmd *cobra.Command, codes []string) error {
			s, st, err := a.begin(cmd.Context(), true)
			if err != nil {
				return err
			}
			defer st.Close()
			f, err := a.findings(cmd.Context(), st, s)
			if err != nil {
				return err
			}
			defer collectLess()()
			all, err := a.summaries(cmd.Context(), st, s, codes, f)
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(a.out, all)
			}
			opt := s.pageOptions()
			opt.Static = static
			if err := a.writeSummaries(cmd.Context(), out, all, opt); err != nil {
				return err
			}
			_, err = fmt.Fprintf(a.out, "%s: %s; open %s\n", out, bundle.Counted(len(all), "summary", "summaries"), filepath.Join(out, "index.html"))
			return err
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", "summaries", "the `FOLDER` to write into")
	cmd.Flags().BoolVar(&static, "static", false, staticHelp)
	cmd.Flags().BoolVar(&a.fresh, "fresh", false, freshHelp)
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the summaries as JSON and write no page")
	return cmd
}

// summariesGrowth is the percentage by which memory may grow over what is held while summaries
// are made. Findings, summaries and pages are many small pieces, all of which the garbage
// collector looks at whenever it comes: coming as often as in a review, it took a sixth of all
// the work. Where dentures are many, a review still makes it come earlier.
const summariesGrowth = 200

// collectLess lets memory grow so until done is called, unless the user said how far it may.
func collectLess() (done func()) {
	if os.Getenv("GOGC") != "" {
		return func() {}
	}
	had := debug.SetGCPercent(summariesGrowth)
	return func() { debug.SetGCPercent(had) }
}

func (a *app) summaries(ctx context.Context, st *store.Store, s settings, codes []string, found *review.Findings) ([]review.Summary, error) {
	bar := a.newProgress()
	defer bar.wait()
	h := a.header()
	h.Progress = bar.review
	all, err := review.Summaries(ctx, st, s.Review, h, codes, found)
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	for _, one := range all {
		known[one.Clinician] = true
	}
	for _, c := range codes {
		if !known[c] {
			return nil, fmt.Errorf("no delivered denture of clinician %q in %s ('afterfit ask clinicians' lists the codes): %w", c, s.Store, errNothing)
		}
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("no delivered denture in %s: %w", s.Store, errNothing)
	}
	return all, nil
}

// writeSummaries writes every page and then the index, which names only whole pages.
func (a *app) writeSummaries(ctx context.Context, dir string, all []review.Summary, opt page.Options) error {
	bar := a.newProgress()
	defer bar.wait()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("cannot make the folder %s: %w", dir, err)
	}
	entries := make([]page.IndexEntry, len(all))
	for i, one := range all {
		file := page.SummaryFile(one.Clinician, one.Fingerprint)
		entries[i] = page.IndexEntry{Code: one.Clinician, File: file, Cases: one.Coverage.Cases, Dentures: one.Coverage.Delivered}
	}
	var mu sync.Mutex // of the progress
	done := 0
	bar.review("writing summaries", 0, len(all))
	pages, ctx := errgroup.WithContext(ctx)
	pages.SetLimit(runtime.GOMAXPROCS(0))
	for i := range all {
		pages.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			err := writeBeside(filepath.Join(dir, entries[i].File), func(w io.Writer) error { return page.Summary(w, &all[i], opt) })
			mu.Lock()
			defer mu.Unlock()
			done++
			bar.review("writing summaries", done, len(all))
			return err
		})
	}
	if err := pages.Wait(); err != nil {
		return err
	}
	return writeBeside(filepath.Join(dir, "index.html"), func(w io.Writer) error {
		first := all[0]
		return page.SummaryIndex(w, entries, page.About{Version: first.Version, Fingerprint: first.Fingerprint, Basis: first.Basis, AsOf: first.AsOf, Invented: first.Invented}, opt)
	})
}

// staticHelp tells what --static does, for every command that writes pages.
const staticHelp = "write pages without any script: still pictures, and tables that do not sort or copy"

// pageOptions are the pages' language, as the settings give it.
func (s *settings) pageOptions() page.Options { return page.Options{Words: s.words} }
