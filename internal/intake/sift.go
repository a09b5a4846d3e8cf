package intake

import (
	"bytes"
	"context"
	"crypto/md5" //nolint:gosec // tells versions of a case apart, keeps no secret
	"encoding/binary"
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"math/bits"
	"os"
	"strconv"
	"sync"
	"sync/atomic"
	"unicode/utf8"

	"afterfit/internal/bundle"
	"afterfit/internal/mapping"
	"afterfit/internal/sheets"
)

// Nearly all rows of an export are sound, and the store should pay for them no more
// than DuckDB needs to read and write them. So a look-through goes over the bytes of
// every row first and tells rows that are sound for certain from those to be judged:
// a cell that is not plainly what its column holds, a key that came before, a parent
// that is not certain itself. Sound rows go from the file to the store in one typed
// read. The others are staged as text, and the rules in SQL alone say what becomes of
// them, so that being too careful costs time and never a row. A test holds the two
// together: no row that the rules set aside is ever sound here.
//
// On the way the look-through gathers what the whole of an export is needed for: the
// shapes of keys for the privacy checks, and a sum over the rows of each case.

// sieve is the look-through of one export. A table is looked through when its parent has
// been; others may be under way beside it.
type sieve struct {
	seed    maphash.Seed
	parents map[string]*parent // the tables that others hang on
	owner   []uint32           // of every visit, the case that it names
	sums    []sum128           // by case, over the rows that belong to it
	mu      sync.Mutex         // of what follows
	strays  []sum128           // by case that only rows of other tables name
}

// sum128 is a sum of 64-bit values.
type sum128 struct{ high, low uint64 }

func (s *sum128) add(x sum128) {
	var carry uint64
	s.low, carry = bits.Add64(s.low, x.low, 0)
	s.high += x.high + carry
}

func newSieve() *sieve {
	s := &sieve{seed: maphash.MakeSeed(), parents: map[string]*parent{}}
	for _, t := range bundle.Tables {
		if t.Parent != "" && s.parents[t.Parent] == nil {
			s.parents[t.Parent] = &parent{index: newIndex(s.seed), strays: newIndex(s.seed)}
		}
	}
	return s
}

// addSum adds to the sum of a case. Tables that hang on cases do so side by side, when all
// cases are known: the halves are added each by itself, and the order does not matter.
func (s *sieve) addSum(of uint32, sum sum128) {
	if of == noCase {
		return
	}
	if at := int(of) - len(s.sums); at >= 0 {
		s.mu.Lock()
		defer s.mu.Unlock()
		for at >= len(s.strays) {
			s.strays = append(s.strays, sum128{})
		}
		s.strays[at].add(sum)
		return
	}
	if atomic.AddUint64(&s.sums[of].low, sum.low) < sum.low {
		sum.high++
	}
	if sum.high > 0 {
		atomic.AddUint64(&s.sums[of].high, sum.high)
	}
}

// keepSums lets go of all but what writeContent needs.
func (s *sieve) keepSums() {
	s.owner, s.parents = nil, map[string]*parent{caseTable: s.parents[caseTable]}
}

// sifted is what the look-through found in one table.
type sifted struct {
	judge bitset            // records to be judged; until split
	sure  bitset            // records whose parent is certain; until split
	odd   int64             // how many are to be judged; from split on
	spans map[string]*spans // by column; until they are screened
	files map[string]int64  // sound rows by file, where a mapping says the file

	judged string // file with the records to be judged; "" = there are none
	sound  string // file with the others
}

// sifting is one table on its way through the sieve.
type sifting struct {
	*sieve
	*sifted
	t     bundle.Table
	sheet *Sheet
	cols  []siftColumn // as the header has them
	at    []int        // of each of the contract's columns, its place in the header; -1 = not there
	own   *parent      // keys of this table, where others hang on it
	up    *parent      // keys of the parent
	near  keyCursor    // at the parent of the row before
	keys  rowKeys      // of a table that nothing hangs on
	first firsts       // of each key in own, its first record
	row   func(values []int64) bool

	problem, file int // places of what a mapping adds, -1 = none

	values []int64
	cells  [][]byte
	ascii  bool     // the record
	text   []byte   // room for the row that is summed
	sum    sum128   // of the rows under way that belong to one case
	sumOf  uint32   // the case
	sums   []sum128 // by case, where this is the table of cases
}

// siftColumn is one column of the header.
type siftColumn struct {
	sound  func(cell []byte) (ok bool, value int64)
	spans  *spans
	isKey  bool
	parent bool // names the parent
	text   bool
}

// sift looks a table through. It must be plain text as DuckDB reads it. Progress is told
// of every so many records more.
func (s *sieve) sift(ctx context.Context, t bundle.Table, sh *Sheet, progress func(more int64)) error {
	const some = 1 << 16
	f := s.begin(t, sh)
	sh.Sifted = f.sifted
	progress(0)
	err := sh.eachRecord(ctx, func(rec int64, text []byte) error {
		if rec%some == 0 && rec > 0 {
			progress(some)
		}
		return f.take(ctx, rec, text)
	})
	f.finish()
	return err
}

// begin prepares the look-through of a table.
func (s *sieve) begin(t bundle.Table, sh *Sheet) *sifting {
	f := &sifting{sieve: s, sifted: &sifted{judge: newBitset(sh.Records), sure: newBitset(sh.Records), spans: map[string]*spans{}, files: map[string]int64{}},
		t: t, sheet: sh, own: s.parents[t.Name], up: s.parents[t.Parent], row: soundRow(t), sumOf: noCase, problem: -1, file: -1, values: make([]int64, len(t.Columns))}
	if f.own != nil {
		f.own.reserve(sh.Records)
	}
	switch {
	case t.Parent == "":
		f.sums = make([]sum128, 0, sh.Records)
	case f.own != nil && t.Parent == caseTable:
		s.owner = make([]uint32, 0, sh.Records)
	}
	for _, c := range t.Columns {
		f.at = append(f.at, -1)
		k := siftColumn{sound: soundCell(c), parent: c.Name == t.ParentBy, isKey: len(t.Key) == 0 || contains(t.Key, c.Name), text: c.Kind == bundle.Text || c.Kind == bundle.Period || c.Kind == bundle.AgeBand || c.Kind == bundle.Codes}
		if (c.Kind == bundle.Text || c.Kind == bundle.Period) && !k.parent {
			k.spans = newSpans(s.seed)
		}
		f.cols = append(f.cols, k)
	}
	for i, name := range sh.names() {
		for j, c := range t.Columns {
			if c.Name == name {
				f.at[j] = i
			}
		}
		switch name {
		case mapping.ProblemColumn:
			f.problem = i
		case mapping.FileColumn:
			f.file = i
		}
	}
	return f
}

// take looks at one record. It is called for every row of an export.
func (f *sifting) take(ctx context.Context, rec int64, text []byte) error {
	f.cells, f.ascii = sheets.SplitRow(text, ',', f.cells[:0])
	sound := f.problem < 0 || len(f.cell(f.problem)) == 0
	hash, keyed := uint64(0), true
	var own, up uint32
	hasOwn, hasUp, firstTime, sure := false, false, false, f.up == nil
	for j := range f.cols {
		c := &f.cols[j]
		cell := f.cell(f.at[j])
		ok, value := c.sound(cell)
		sound = sound && ok
		f.values[j] = value
		switch {
		case c.parent:
			if hasUp = len(cell) > 0; hasUp {
				up = f.up.find(cell, &f.near)
				if sure = f.up.isSound(up); sure {
					f.sure.set(rec)
				}
			}
		case f.own != nil && c.isKey:
			if hasOwn = len(cell) > 0; hasOwn {
				own, firstTime = f.own.add(cell)
			}
		}
		if c.isKey && f.own == nil {
			value = f.keyValue(c, cell, value, up)
			keyed = keyed && value != noValue
			hash = mix(hash, uint64(value)) //nolint:gosec // bits, no number
		}
		if c.spans != nil && len(cell) > 0 {
			c.spans.add(cell, f.own != nil && c.isKey, firstTime)
		}
	}
	sound = sound && sure && f.row(f.values)
	switch {
	case f.own != nil && hasOwn:
		sound = f.key(rec, own, firstTime) && sound
	case f.own == nil && keyed && sure: // of a parent that is not sound no row is
		isNew, err := f.newRow(ctx, rec, up, hash)
		if err != nil {
			return err
		}
		sound = isNew && sound
	}
	if !sound {
		f.judge.set(rec)
	} else if f.file >= 0 {
		f.files[string(f.cell(f.file))]++
	}
	f.addRow(own, hasOwn, up, hasUp)
	return nil
}

// cell is the cell at a place of the header; nil where the header has none.
func (f *sifting) cell(at int) []byte { return cellAt(f.cells, at) }

func cellAt(cells [][]byte, at int) []byte {
	if at < 0 || at >= len(cells) {
		return nil
	}
	return cells[at]
}

// key notes the key of a row on which others may hang, and reports whether it is new.
func (f *sifting) key(rec int64, own uint32, firstTime bool) bool {
	if firstTime {
		f.first.note(own, uint32(rec)) //nolint:gosec // no file has 4 thousand million records
		return true
	}
	f.judge.set(int64(f.first.of(own)))
	return false
}

// finish settles what only the whole table shows.
func (f *sifting) finish() {
	for i, step := range f.first {
		end := uint32(f.own.len()) //nolint:gosec // keys are fewer than records
		if i+1 < len(f.first) {
			end = f.first[i+1].key
		}
		for own := step.key; own < end; own++ {
			if !f.judge.has(int64(step.rec + own - step.key)) {
				f.own.setSound(own)
			}
		}
	}
	if f.t.Parent == "" {
		f.sieve.sums = f.sums
	} else {
		f.addSum(f.sumOf, f.sum)
	}
	for j, c := range f.t.Columns {
		if k := f.cols[j]; k.spans != nil && f.at[j] >= 0 {
			f.spans[c.Name] = k.spans
			if f.own != nil && k.isKey {
				k.spans.keep(f.own.index)
			}
		}
	}
}

// addRow adds the row to the sum of its case: the same 64 bits of the same text as
// rowContent has it in SQL.
func (f *sifting) addRow(own uint32, hasOwn bool, up uint32, hasUp bool) {
	var of uint32
	switch {
	case f.t.Parent == "":
		if !hasOwn {
			return
		}
		of = own
	case f.t.Parent == caseTable && hasUp:
		of = up
		if f.own != nil && hasOwn {
			f.owns(own, up)
		}
	case f.t.Parent == caseTable || !hasUp || int(up) >= len(f.owner) || f.owner[up] == noCase:
		return
	default:
		of = f.owner[up]
	}
	buf := f.text[:0]
	buf = append(buf, f.t.Name...)
	for j, at := range f.at {
		if j > 0 {
			buf = append(buf, ',')
		}
		cell := f.cell(at)
		if len(cell) == 0 {
			buf = append(buf, '-')
			continue
		}
		n := len(cell)
		if !f.ascii {
			n = utf8.RuneCount(cell)
		}
		if n < 10 {
			buf = append(buf, byte('0'+n), ':')
		} else {
			buf = append(strconv.AppendInt(buf, int64(n), 10), ':')
		}
		buf = append(buf, cell...)
	}
	f.text = buf
	row := sum128{low: lowerHalf(md5.Sum(buf))} //nolint:gosec // see above
	if f.t.Parent == "" {
		for int(of) >= len(f.sums) {
			f.sums = append(f.sums, sum128{})
		}
		f.sums[of].add(row)
		return
	}
	if of != f.sumOf {
		f.addSum(f.sumOf, f.sum)
		f.sumOf, f.sum = of, sum128{}
	}
	f.sum.add(row)
}

// caseTable is the table that everything belongs to.
const caseTable = "cases"

// noCase stands for no case, where the number of one is noted.
const noCase = ^uint32(0)

// owns notes which case a visit names; of two the one that comes first as text.
func (f *sifting) owns(visit, of uint32) {
	for int(visit) >= len(f.owner) {
		f.owner = append(f.owner, noCase)
	}
	cases := f.parents[caseTable]
	if had := f.owner[visit]; had == noCase || bytes.Compare(cases.key(of), cases.key(had)) < 0 {
		f.owner[visit] = of
	}
}

// lowerHalf is what DuckDB's md5_number_lower makes of a digest.
func lowerHalf(sum [md5.Size]byte) uint64 { return binary.LittleEndian.Uint64(sum[8:]) }

// eachRecord cuts the records of a sheet's text and gives each its number. The text is
// only lent. A file that has not as many as were counted before has changed.
func (sh *Sheet) eachRecord(ctx context.Context, take func(rec int64, text []byte) error) error {
	in, err := os.Open(sh.Path)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }() // only read from
	rec, err := cutRecords(ctx, in, func(rec int64, text []byte) error {
		if rec >= sh.Records {
			return errOtherRecords
		}
		return take(rec, text)
	})
	if err == nil && rec == sh.Records {
		return nil
	}
	if changed := sh.unchanged(); changed != nil {
		return changed
	}
	if err == nil {
		err = errOtherRecords
	}
	return fmt.Errorf("read %s: %w", sh.File, err)
}

var errOtherRecords = errors.New("not the records that were counted before; was the file changed meanwhile?")

// cutRecords cuts the records below the header line.
func cutRecords(ctx context.Context, in io.Reader, take func(rec int64, text []byte) error) (int64, error) {
	const chunk = 1 << 20
	var buf, have []byte
	rec := int64(-1) // the header
	for end := false; !end; {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if len(have)+chunk > len(buf) {
			buf = make([]byte, 2*(len(have)+chunk))
		}
		n := copy(buf, have)
		m, err := io.ReadFull(in, buf[n:n+chunk])
		have = buf[:n+m]
		switch {
		case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
			end = true
		case err != nil:
			return 0, err
		}
		for len(have) > 0 {
			r := sheets.Cut(have, 0, ',')
			if !r.Ended && !end {
				break
			}
			if rec >= 0 {
				if err := take(rec, have[r.From:r.To]); err != nil {
					return 0, err
				}
			}
			rec++
			have = have[r.Next:]
		}
	}
	return max(rec, 0), nil
}
