package intake

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/csv"
	"errors"
	"fmt"
	"math/bits"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"afterfit/internal/mapping"
	"afterfit/internal/sheets"
	"afterfit/internal/store"
)

// Columns before those of the sheet in the file of records to be judged.
const (
	recColumn  = "_rec"
	sureColumn = "_sure" // the row's parent is certain to be in the load
)

// split writes the records to be judged into one file and the others into another; a
// table whose rows are all sound is read where it is. Then only their number is needed.
func (sh *Sheet) split(ctx context.Context, scratch string) (err error) {
	f := sh.Sifted
	defer func() { f.judge, f.sure = nil, nil }()
	f.sound, f.odd = sh.Path, f.judge.count()
	if f.odd == 0 {
		return nil
	}
	f.judged, f.sound = filepath.Join(scratch, sh.Table+".judged"), filepath.Join(scratch, sh.Table+".sound")
	head := strings.Repeat("x,", len(sh.names())-1) + "x\n" // names are given where it is read
	judged, err := newPart(f.judged, "x,x,"+head)
	if err != nil {
		return err
	}
	sound, err := newPart(f.sound, head)
	if err != nil {
		return errors.Join(err, judged.close())
	}
	var lead []byte
	cells, file := [][]byte{}, slices.Index(sh.names(), mapping.FileColumn)
	f.files = map[string]int64{}
	err = sh.eachRecord(ctx, func(rec int64, text []byte) error {
		if !f.judge.has(rec) {
			if file >= 0 {
				cells = sheets.SplitBytes(text, ',', cells[:0])
				f.files[string(cells[file])]++
			}
			return sound.line(nil, text)
		}
		lead = strconv.AppendInt(lead[:0], rec, 10)
		lead = append(strconv.AppendBool(append(lead, ','), f.sure.has(rec)), ',')
		return judged.line(lead, text)
	})
	return errors.Join(err, judged.close(), sound.close())
}

// part is a file on its way.
type part struct {
	f *os.File
	w *bufio.Writer
}

func newPart(path, head string) (*part, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, err
	}
	p := &part{f, bufio.NewWriterSize(f, 1<<18)}
	_, err = p.w.WriteString(head)
	return p, err
}

// line writes a record.
func (p *part) line(lead, text []byte) error {
	_, err := p.w.Write(lead)
	if err == nil {
		_, err = p.w.Write(text)
	}
	if err == nil {
		err = p.w.WriteByte('\n')
	}
	return err
}

func (p *part) close() error { return errors.Join(p.w.Flush(), p.f.Close()) }

// writeContent writes what the export says of each case, as content has it in SQL.
func (s *sieve) writeContent(path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	w := csv.NewWriter(bufio.NewWriterSize(f, 1<<18))
	cases := s.parents[caseTable]
	err = w.Write([]string{"case_id", "content"})
	for c := cases.walk(); err == nil && c.next(); {
		err = w.Write([]string{string(c.key), s.sums[c.n].String()})
	}
	for c := cases.strays.walk(); err == nil && c.next(); {
		err = w.Write([]string{string(c.key), s.strays[c.n].String()})
	}
	w.Flush()
	return errors.Join(err, w.Error(), f.Close())
}

// String writes the sum in decimal digits.
func (s sum128) String() string {
	if s.high == 0 {
		return strconv.FormatUint(s.low, 10)
	}
	const block = 1e19
	over, rest := bits.Div64(s.high, s.low, block) // rows are fewer than block, and so is high
	return fmt.Sprintf("%d%019d", over, rest)
}

// asText writes the rows of a Parquet file as the text that the sieve reads.
func (g *stage) asText(ctx context.Context, c *sql.Conn, scratch string) error {
	if g.sheet.Columns == nil {
		return nil
	}
	path := filepath.Join(scratch, g.t.Name+".csv")
	if _, err := exec(ctx, c, fmt.Sprintf("COPY (SELECT * FROM %s) TO %s (FORMAT csv, HEADER true, DELIMITER ',', QUOTE '\"', ESCAPE '\"')", g.from(), store.Quote(path))); err != nil {
		if changed := g.sheet.unchanged(); changed != nil {
			return changed
		}
		return fmt.Errorf("read %s: %w", g.sheet.File, err)
	}
	g.sheet.Path, g.sheet.Columns = path, nil
	return g.sheet.unchanged()
}

// markTaken sets apart the visits whose number the store has for a case that may stay,
// and the sore spots that hang on them.
func (l *loader) markTaken(ctx context.Context, c *sql.Conn) error {
	visits := find(l.stages, "visits")
	if visits.sheet == nil {
		return nil
	}
	stays := "true"
	if cases := find(l.stages, caseTable); cases.sheet != nil {
		stays = fmt.Sprintf("case_id NOT IN (SELECT case_id FROM %s)", cases.soundRows())
	}
	taken := map[string]bool{}
	rows, err := c.QueryContext(ctx, fmt.Sprintf("SELECT visit_id FROM main.visits WHERE visit_id IN (SELECT visit_id FROM %s) AND %s", visits.from(), stays))
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }() // only read from
	for rows.Next() {
		var visit string
		if err := rows.Scan(&visit); err != nil {
			return err
		}
		taken[visit] = true
	}
	if err := rows.Err(); err != nil || len(taken) == 0 {
		return err
	}
	for _, name := range []string{"visits", "sore_spots"} {
		if g := find(l.stages, name); g.sheet != nil {
			if err := g.sheet.setApart(ctx, "visit_id", taken, name != "visits"); err != nil {
				return err
			}
		}
	}
	return nil
}

// setApart adds to the records to be judged those with one of some values in a column.
func (sh *Sheet) setApart(ctx context.Context, column string, values map[string]bool, children bool) error {
	at := slices.Index(sh.Header, column)
	var cells [][]byte
	return sh.eachRecord(ctx, func(rec int64, text []byte) error {
		cells = sheets.SplitBytes(text, ',', cells[:0])
		if at < len(cells) && values[string(cells[at])] {
			sh.Sifted.judge.set(rec)
			if children {
				sh.Sifted.sure.unset(rec)
			}
		}
		return nil
	})
}
