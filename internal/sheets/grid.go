package sheets

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
)

// gridWriter writes rows as they come. A row wider than those before it widens the
// grid; finish then pads the narrower ones in a second pass over the file.
type gridWriter struct {
	grid  Grid
	path  string
	file  *os.File
	w     *bufio.Writer
	width int
	steps []step // widths, each with the first row that has it
	bytes int64
	line  []byte
}

type step struct {
	row   int64
	width int
}

func newGridWriter(path string, info Info) (*gridWriter, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_TRUNC|os.O_RDWR, 0o600)
	if err != nil {
		return nil, fmt.Errorf("no place for temporary files: %w", err)
	}
	return &gridWriter{grid: Grid{Info: info, Path: path}, path: path, file: f, w: bufio.NewWriterSize(f, 1<<16)}, nil
}

// add writes one row. Trailing empty cells are nothing; a row of nothing is blank.
func (g *gridWriter) add(line int64, cells []string) error {
	for len(cells) > 0 && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) == 0 {
		g.grid.Blank++
		return nil
	}
	if len(cells) > maxColumns {
		return g.grid.fault(line, fmt.Sprintf("a row of %d cells", len(cells)), fmt.Sprintf("export at most %d columns", maxColumns))
	}
	if len(cells) > g.width {
		g.width = len(cells)
		g.steps = append(g.steps, step{g.grid.Rows, g.width})
	}
	if g.grid.Rows < headRows {
		g.grid.Head = append(g.grid.Head, append([]string(nil), cells...))
		g.grid.HeadLines = append(g.grid.HeadLines, line)
	}
	g.grid.Rows++
	return g.write(line, cells)
}

func (g *gridWriter) write(line int64, cells []string) error {
	b := strconv.AppendInt(g.line[:0], line, 10)
	for i := range g.width {
		b = append(b, ',')
		if i < len(cells) {
			b = appendCell(b, cells[i])
		}
	}
	g.line = append(b, '\n')
	if g.bytes += int64(len(g.line)); g.bytes > maxGrid {
		return g.grid.fault(line, "a sheet that unfolds to more than 16 GiB", "export fewer years at a time")
	}
	_, err := g.w.Write(g.line)
	return err
}

// appendCell quotes a cell where a reader of CSV needs it.
func appendCell(b []byte, cell string) []byte {
	if !strings.ContainsAny(cell, ",\"\r\n") {
		return append(b, cell...)
	}
	b = append(b, '"')
	for i := range len(cell) {
		if cell[i] == '"' {
			b = append(b, '"')
		}
		b = append(b, cell[i])
	}
	return append(b, '"')
}

// finish closes the file and hands out the grid.
func (g *gridWriter) finish() (*Grid, error) {
	err := g.w.Flush()
	if err == nil && len(g.steps) > 1 {
		err = g.pad()
	}
	err = errors.Join(err, g.file.Close())
	g.grid.Width = g.width
	for i, row := range g.grid.Head {
		g.grid.Head[i] = append(row, make([]string, g.width-len(row))...)
	}
	return &g.grid, err
}

// pad writes the grid again with every row as wide as the widest.
func (g *gridWriter) pad() (err error) {
	if _, err := g.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	out, err := os.OpenFile(g.path+".pad", os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	in, w := bufio.NewReaderSize(g.file, 1<<16), bufio.NewWriterSize(out, 1<<16)
	err = errors.Join(g.padRows(in, w), w.Flush(), out.Close())
	if err != nil {
		return errors.Join(err, os.Remove(out.Name()))
	}
	return os.Rename(out.Name(), g.path)
}

// padRows copies the rows, adding the cells that the early ones lack.
func (g *gridWriter) padRows(in *bufio.Reader, w *bufio.Writer) error {
	row, inQuotes, at := int64(0), false, 0
	written := int64(0)
	for {
		chunk, err := in.ReadSlice('\n')
		inQuotes = inQuotes != (strings.Count(string(chunk), `"`)%2 == 1)
		if err == nil && !inQuotes {
			for at+1 < len(g.steps) && g.steps[at+1].row <= row {
				at++
			}
			lacking := g.width - g.steps[at].width
			if written += int64(len(chunk) + lacking); written > maxGrid {
				return g.grid.fault(0, "a sheet that unfolds to more than 16 GiB", "export fewer years at a time")
			}
			chunk = append(chunk[:len(chunk)-1:len(chunk)-1], strings.Repeat(",", lacking)+"\n"...)
			row++
		}
		if _, werr := w.Write(chunk); werr != nil {
			return werr
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil && !errors.Is(err, bufio.ErrBufferFull) {
			return err
		}
	}
}
