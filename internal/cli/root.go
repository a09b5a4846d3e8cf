// Package cli is the command line: one file per command, each turning flags into
// one call and the answer into words. It is the only place that knows the clock,
// the terminal and the process.
package cli

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"afterfit/internal/review"
	"afterfit/internal/store"
)

// Version is the program's version, printed on every page.
const Version = "0.1.0"

// app is what the commands share: streams and the global flags.
type app struct {
	out, err     io.Writer
	storePath    string
	settingsPath string
	memory       string
	temp         string
	threads      int
	asOf         string
	quiet        bool
	fresh        bool
}

// Main runs the command line with the given arguments and returns the exit code.
// Ctrl-C and SIGTERM cancel the running command, which then changes nothing.
func Main(args []string, out, errw io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	root := newRoot(&app{out: out, err: errw})
	root.SetArgs(args)
	err := store.Explain(root.ExecuteContext(ctx))
	if err != nil && ctx.Err() != nil {
		err = fmt.Errorf("stopped; the store is as it was before: %w", context.Canceled)
	}
	if err != nil {
		fmt.Fprintf(errw, "afterfit: %v\n", err)
	}
	return exitCode(err)
}

func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "afterfit",
		Short: "Outcome and adjustment analytics for complete dentures",
		Long: `afterfit loads de-identified case exports, follows every denture from its records
to the end of its observation, and shows a quality-review meeting which ways of
taking records go with sore spots, adjustment visits and remakes.

It shows association, never cause. It is not for disciplinary use on its own.

Exit codes: 0 done, 1 internal fault, 2 wrong use, 3 bad data (nothing changed),
4 nothing to report, 5 the store cannot be used, 130 interrupted.`,
		Example: `  afterfit demo
  afterfit load exports/2026-06
  afterfit pack --out meeting.html`,
		Version:       Version,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return unknownCommand(cmd, args[0])
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetOut(a.out)
	root.SetErr(a.err)
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usageError{fmt.Errorf("%w; see '%s --help'", err, c.CommandPath())}
	})
	f := root.PersistentFlags()
	f.StringVar(&a.storePath, "store", "", "the store `FILE` (default afterfit.duckdb, or store in the settings)")
	f.StringVar(&a.settingsPath, "settings", "", "settings `FILE` (default afterfit.toml if there is one)")
	f.StringVar(&a.memory, "memory", "", "memory limit for the database, e.g. 4GB (default 2GB, or less where the machine has little; for questions from the size of the store, 1GB at most)")
	f.IntVar(&a.threads, "threads", 0, "threads for the database (default all)")
	f.StringVar(&a.temp, "temp", "", "`FOLDER` for temporary files, which vanish at the end (default beside the store)")
	f.StringVar(&a.asOf, "as-of", "", "the `DATE` to print on pages; without it a page carries none")
	f.BoolVarP(&a.quiet, "quiet", "q", false, "no progress on the terminal")
	root.AddCommand(newDemo(a), newLook(a), newLoad(a), newBlank(a), newPack(a), newSummary(a), newAudit(a), newAsk(a), newVerify(a))
	return root
}

// unknownCommand names the nearest commands.
func unknownCommand(cmd *cobra.Command, name string) error {
	hint := ""
	if cmd.SuggestionsMinimumDistance == 0 {
		cmd.SuggestionsMinimumDistance = 2 // cobra sets its default only on its own path
	}
	if near := cmd.SuggestionsFor(name); len(near) > 0 {
		hint = "; did you mean " + strings.Join(near, " or ") + "?"
	}
	return usageError{fmt.Errorf("there is no command %q%s; see 'afterfit --help'", name, hint)}
}

// args wraps an argument check so that its failure is a usage error.
func args(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, a []string) error {
		if err := check(cmd, a); err != nil {
			return usageError{fmt.Errorf("%w; see '%s --help'", err, cmd.CommandPath())}
		}
		return nil
	}
}

func (a *app) header() review.Header { return review.Header{Version: Version, AsOf: a.asOf} }
