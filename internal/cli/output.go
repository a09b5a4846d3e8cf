package cli

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
)

// writeBeside writes a file beside its place and renames it into it, so that a
// reader never meets half a page. What stands there and is no file, such as a device or
// a pipe, is written to as it is: a file in its place would take it away.
func writeBeside(path string, write func(io.Writer) error) (err error) {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return writeInto(path, write)
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".afterfit-*")
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	defer func() {
		if err != nil {
			_ = os.Remove(tmp.Name()) // the write's own error matters more
		}
	}()
	w := bufio.NewWriterSize(tmp, 1<<16)
	if err = write(w); err == nil {
		err = w.Flush()
	}
	if closeErr := tmp.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	if err = os.Chmod(tmp.Name(), 0o644); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}

// writeInto writes to a device or a pipe.
func writeInto(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	w := bufio.NewWriterSize(f, 1<<16)
	if err = write(w); err == nil {
		err = w.Flush()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	return nil
}

// printJSON writes v indented, with a final newline.
func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// printTable writes aligned columns for people.
func printTable(w io.Writer, columns []string, rows [][]string) error {
	tw := tabwriter.NewWriter(w, 2, 0, 2, ' ', 0)
	fmt.Fprintln(tw, strings.Join(columns, "\t"))
	for _, r := range rows {
		fmt.Fprintln(tw, strings.Join(r, "\t"))
	}
	return tw.Flush()
}
