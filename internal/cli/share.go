package cli

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"afterfit/internal/bundle"
	"afterfit/internal/page"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

// shareOptions are the flags of a share form.
type shareOptions struct {
	on                bool
	seed, out, tables string
	json              bool
}

// notShared are the flags of pack that show or keep what a share form must not have.
var notShared = []string{"since", "save-standard", "label-clinicians"}

// check refuses flags that do not go together, and draws a seed where none is given.
func (o *shareOptions) check(cmd *cobra.Command) error {
	if !o.on {
		if o.seed != "" {
			return usageError{errors.New("--seed orders the fresh codes of a share form: give --share with it")}
		}
		return nil
	}
	for _, name := range notShared {
		if cmd.Flags().Changed(name) {
			return usageError{fmt.Errorf("--%s does not go with --share: what it shows or keeps must stay in the house", name)}
		}
	}
	if !cmd.Flags().Changed("out") {
		o.out = "shared.html"
	}
	return nil
}

// share writes a share form: the page, or its findings as JSON, and its tables.
func (a *app) share(ctx context.Context, st *store.Store, s settings, o shareOptions) error {
	if o.seed == "" {
		b := make([]byte, 16)
		_, _ = rand.Read(b) // never fails
		o.seed = hex.EncodeToString(b)
		fmt.Fprintf(a.err, "Sites have fresh codes. The same page again: --seed %s\nKeep the seed in the house: with it the codes can be worked back.\n", o.seed)
	}
	bar := a.newProgress()
	h := a.header()
	h.Progress = bar.review
	f, err := review.Share(ctx, st, s.Review, h, o.seed)
	bar.wait()
	if errors.Is(err, review.ErrTooSmallToShare) {
		return fmt.Errorf("%s: %w: %w", s.Store, err, errNothing)
	}
	if err != nil {
		return err
	}
	if o.tables != "" {
		var all []source
		for _, t := range f.Tables() {
			all = append(all, source{t.About, t.Fill})
		}
		if err := writeTables(o.tables, all); err != nil {
			return err
		}
	}
	if o.json {
		return printJSON(a.out, f)
	}
	if err := writeBeside(o.out, func(w io.Writer) error { return page.Shared(w, f, s.pageOptions()) }); err != nil {
		return err
	}
	_, err = fmt.Fprintf(a.out, "%s: share form, about %s, %s delivered. Look it through before it leaves the house; local rules come first.\n", o.out, bundle.Counted(f.Coverage.Patients, "patient", "patients"), bundle.Counted(f.Coverage.Delivered, "denture", "dentures"))
	return err
}
