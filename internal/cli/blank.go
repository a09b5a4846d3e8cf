package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"afterfit/internal/blank"
)

func newBlank(a *app) *cobra.Command {
	var paper, force bool
	size := blank.Sizes[0]
	cmd := &cobra.Command{
		Use:   "blank [FILE]",
		Short: "Write an empty workbook, or a paper form, for a practice without an export",
		Long: `blank writes an empty workbook with one sheet for each table: lists of the codes,
checks of the ranges, units in the headings, and a sheet that explains how to fill it
in. Filled in and saved as XLSX, it loads as it is ('afterfit load FILE.xlsx').

With --paper it writes a form to print instead, one sheet a case: the records on one
side, the aftercare on the other. It is HTML; a browser prints it on both sides.`,
		Example: "  afterfit blank\n  afterfit blank spring.xlsx\n  afterfit blank --paper\n  afterfit blank form.html --paper --size Letter\n  afterfit blank spring.xlsx --force",
		Args:    args(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, got []string) error {
			path, ext, write := "afterfit-blank.xlsx", ".xlsx", func(w io.Writer) error { return blank.Workbook(w, blank.Content{}) }
			switch {
			case paper:
				path, ext, write = "afterfit-form.html", ".html", func(w io.Writer) error { return blank.Paper(w, size) }
			case cmd.Flags().Changed("size"):
				return usageError{errors.New("--size is of the paper form: add --paper")}
			}
			if !slices.Contains(blank.Sizes, size) {
				return usageError{fmt.Errorf("--size is %q: give %s", size, strings.Join(blank.Sizes, " or "))}
			}
			if len(got) == 1 {
				path = got[0]
			}
			if !strings.EqualFold(filepath.Ext(path), ext) {
				return usageError{fmt.Errorf("%s should end in %s", path, ext)}
			}
			if _, err := os.Lstat(path); !force && !errors.Is(err, fs.ErrNotExist) {
				return usageError{fmt.Errorf("%s is there already, and may be filled in: name another file, or --force", path)}
			}
			if err := writeBeside(path, write); err != nil {
				return err
			}
			_, err := fmt.Fprintln(a.out, path)
			return err
		},
	}
	cmd.Flags().BoolVar(&paper, "paper", false, "write the paper form of one case instead of the workbook")
	cmd.Flags().StringVar(&size, "size", size, "`PAPER` size of the form: A4 or Letter")
	cmd.Flags().BoolVar(&force, "force", false, "replace a file that is there")
	return cmd
}
