package sheets

import (
	"context"
	"os"
	"strconv"
)

// Each calls visit for every row of the grid with its line. The cells are valid
// until visit returns.
func (g *Grid) Each(ctx context.Context, visit func(line int64, cells []string) error) error {
	f, err := os.Open(g.Path)
	if err != nil {
		return err
	}
	defer f.Close()
	c := &cutter{info: &g.Info, r: f, delim: ',', line: 1}
	var cells []string
	for n := 0; ; n++ {
		if err := ctx.Err(); n%1024 == 0 && err != nil {
			return err
		}
		text, _, err := c.next()
		if err != nil || text == nil {
			return err
		}
		cells = split(text, ',', cells[:0])
		line, err := strconv.ParseInt(cells[0], 10, 64)
		if err != nil {
			return err
		}
		if err := visit(line, cells[1:]); err != nil {
			return err
		}
	}
}

// Text is the path of delimited text as it stands, unpacked, for a reader with
// rules of its own; "" for sheets of another form.
func (b *Book) Text(i int) string {
	if b.sources[i].info.Format != CSV {
		return ""
	}
	return b.sources[i].from.path
}
