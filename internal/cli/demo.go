package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"afterfit/internal/bundle"
	"afterfit/internal/demo"
	"afterfit/internal/intake"
	"afterfit/internal/page"
	"afterfit/internal/review"
)

func newDemo(a *app) *cobra.Command {
	var opt demo.Options
	var format string
	var bundleOnly bool
	cmd := &cobra.Command{
		Use:   "demo [FOLDER]",
		Short: "Write an invented service, load it, and write its pack, summaries and three audits",
		Long: `demo writes the case bundle of an invented denture service into a folder
(afterfit-demo by default), loads it into a store there, and writes the meeting pack,
every clinician's summary and three case audits. No person, clinic or brand stands behind the data.

Any number of cases can be had, up to 10,000,000 and more: they are written one after the
other. With more than 37,500 cases the service is a group of several like it, fifteen
clinicians and three sites each, at most 27 of them unless --services says otherwise.
With --bundle-only nothing but the case bundle is written.`,
		Example: "  afterfit demo\n  afterfit demo my-demo --cases 1000\n  afterfit demo large --cases 1000 --bundle-only --format parquet",
		Args:    args(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, got []string) error {
			dir := "afterfit-demo"
			if len(got) == 1 {
				dir = got[0]
			}
			if opt.Cases < 1 {
				return usageError{fmt.Errorf("--cases is %d: give a number from 1", opt.Cases)}
			}
			if opt.Services < 0 {
				return usageError{fmt.Errorf("--services is %d: give a number from 1, or 0 for as many as the cases ask for", opt.Services)}
			}
			if format != "csv" && format != "parquet" {
				return usageError{fmt.Errorf("--format is %q: give csv or parquet", format)}
			}
			opt.Parquet = format == "parquet"
			if bundleOnly {
				return a.demoBundle(cmd.Context(), dir, opt)
			}
			return a.demo(cmd.Context(), dir, opt)
		},
	}
	cmd.Flags().IntVar(&opt.Cases, "cases", demo.DefaultCases, "how many cases to invent")
	cmd.Flags().Uint64Var(&opt.Seed, "seed", demo.DefaultSeed, "the seed; the same seed gives the same bytes")
	cmd.Flags().IntVar(&opt.Services, "services", 0, "how many services of fifteen clinicians (0 = as many as the cases ask for)")
	cmd.Flags().StringVar(&format, "format", "csv", "`FORMAT` of the bundle's tables: csv or parquet")
	cmd.Flags().BoolVar(&bundleOnly, "bundle-only", false, "write the case bundle into FOLDER and nothing else")
	return cmd
}

// invent writes the invented export and shows how far it is.
func (a *app) invent(ctx context.Context, dir string, opt demo.Options) error {
	bar := a.newProgress()
	defer bar.wait()
	opt.Progress = func(done, total int64) { bar.show("inventing cases", done, total) }
	return demo.Write(ctx, dir, opt)
}

// demoBundle writes the invented export alone.
func (a *app) demoBundle(ctx context.Context, dir string, opt demo.Options) error {
	if err := a.invent(ctx, dir, opt); err != nil {
		return err
	}
	_, err := fmt.Fprintf(a.out, "Invented export   %s (%s; no real person, clinic or brand)\n", dir, bundle.Counted(opt.Cases, "case", "cases"))
	return err
}

// demo runs the main job end to end in one folder.
func (a *app) demo(ctx context.Context, dir string, opt demo.Options) error {
	s, err := a.settings()
	if err != nil {
		return err
	}
	if a.storePath == "" {
		s.Store = filepath.Join(dir, defaultStore)
		if err := removeDemoStore(s.Store); err != nil {
			return err
		}
	}
	export := filepath.Join(dir, "export")
	if err := os.MkdirAll(export, 0o755); err != nil {
		return fmt.Errorf("cannot make the folder %s: %w", export, err)
	}
	if err := a.invent(ctx, export, opt); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, defaultSettings), []byte(demo.SettingsFile), 0o644); err != nil {
		return err
	}
	if err := decodeSettings([]byte(demo.SettingsFile), &s); err != nil {
		return err
	}
	s.Review.Changes = s.Change
	fmt.Fprintf(a.out, "Invented export   %s (%s; no real person, clinic or brand)\n", export, bundle.Counted(opt.Cases, "case", "cases"))
	st, err := a.open(ctx, s, false)
	if err != nil {
		return err
	}
	defer st.Close()
	if _, err := a.load(ctx, st, s, export, intake.LoadOptions{SetAsideLimit: intake.DefaultSetAsideLimit}); err != nil {
		return err
	}
	fmt.Fprintf(a.out, "Store             %s\n", s.Store)
	f, err := a.findings(ctx, st, s)
	if err != nil {
		return err
	}
	if err := a.writePack(ctx, filepath.Join(dir, "pack.html"), f, s.pageOptions()); err != nil {
		return err
	}
	fmt.Fprintf(a.out, "Meeting pack      %s\n", filepath.Join(dir, "pack.html"))
	handOut := filepath.Join(dir, "hand-out.html")
	if err := writeBeside(handOut, func(w io.Writer) error { return page.HandOut(w, f, s.pageOptions()) }); err != nil {
		return err
	}
	fmt.Fprintf(a.out, "Hand-out          %s\n", handOut)
	all, err := a.summaries(ctx, st, s, nil, f)
	if err != nil {
		return err
	}
	if err := a.writeSummaries(ctx, filepath.Join(dir, "summaries"), all, s.pageOptions()); err != nil {
		return err
	}
	fmt.Fprintf(a.out, "%-17s %s\n", bundle.Counted(len(all), "summary", "summaries"), filepath.Join(dir, "summaries", "index.html"))
	audits, err := a.audits(ctx, st, s, nil, &review.Pick{Rule: review.PickWorst, Most: 3})
	if errors.Is(err, errNothing) { // a small service may have no case followed for long enough
		audits, err = a.audits(ctx, st, s, nil, &review.Pick{Rule: review.PickRandom, Most: 3})
	}
	if err != nil {
		return err
	}
	if _, err := writeAudits(filepath.Join(dir, "audits"), audits, false, s.pageOptions()); err != nil {
		return err
	}
	fmt.Fprintf(a.out, "%-17s %s\n", bundle.Counted(len(audits), "case audit", "case audits"), filepath.Join(dir, "audits"))
	return a.printStrongest(f)
}

// removeDemoStore clears the store of an earlier demo, so that another seed or
// size does not mix with it. It only ever removes the file that demo itself names.
func removeDemoStore(path string) error {
	for _, p := range []string{path, path + ".wal"} {
		if err := os.Remove(p); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("cannot replace the demo's earlier store: %w", err)
		}
	}
	return nil
}

// printStrongest writes the strongest findings in words.
func (a *app) printStrongest(f *review.Findings) error {
	if len(f.Strongest) == 0 {
		_, err := fmt.Fprintln(a.out, "\nNo habit goes clearly with trouble in this store.")
		return err
	}
	fmt.Fprintln(a.out, "\nStrongest findings (association, not cause; like dentures of the same clinician compared):")
	for i, p := range f.Strongest {
		fmt.Fprintf(a.out, "%d. %s\n", i+1, page.PairSentence(p))
	}
	return nil
}
