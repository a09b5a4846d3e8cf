package intake

import (
	"context"
	"errors"
	"hash/maphash"
	"math/bits"

	"afterfit/internal/sheets"
)

// rowKeys tells rows of one key in a table that nothing hangs on. A key holds that of the
// parent, and in nearly all exports the rows of one parent stand together: so only the keys
// of the parent's rows under way are held. Where rows of a parent come after those of
// others, the keys of all rows are needed from there on.
type rowKeys struct {
	closed bitset // parents whose rows seem to be over
	of     uint32 // the parent under way
	here   []heldKey
	all    keySet // of all rows, once it is needed
}

// heldKey is the hash of a key and the record that has it.
type heldKey struct {
	hash uint64
	rec  uint32
}

// rowsOneByOne is how many rows of one parent are looked through one by one.
const rowsOneByOne = 64

// add notes the key of a row, or gives the record that had it before. Apart says that the
// keys of all rows before this one must be noted in all first; then nothing was done.
func (k *rowKeys) add(up uint32, hash uint64, rec uint32) (before uint32, twice, apart bool) {
	if k.all.slots != nil {
		before, twice = k.all.add(hash, rec)
		return before, twice, false
	}
	if up != k.of || len(k.here) == 0 {
		if k.closed.has(int64(up)) {
			return 0, false, true
		}
		if len(k.here) > 0 {
			k.closed.set(int64(k.of))
		}
		k.of, k.here = up, k.here[:0]
	}
	for _, r := range k.here {
		if r.hash == hash {
			return r.rec, true, false
		}
	}
	if len(k.here) == rowsOneByOne {
		return 0, false, true
	}
	k.here = append(k.here, heldKey{hash, rec})
	return 0, false, false
}

// holdAll makes room for the keys of so many rows.
func (k *rowKeys) holdAll(records int64) { *k = rowKeys{all: newKeySet(records)} }

// newRow reports that no row before has the key of this one, whose parent is sound; the row
// that has it is to be judged.
func (f *sifting) newRow(ctx context.Context, rec int64, up uint32, hash uint64) (isNew bool, err error) {
	n := uint32(rec) //nolint:gosec // no file has 4 thousand million records
	before, twice, apart := f.keys.add(up, hash, n)
	if apart {
		if err := f.noteAll(ctx, rec); err != nil {
			return false, err
		}
		before, twice, _ = f.keys.add(up, hash, n)
	}
	if twice {
		f.judge.set(int64(before))
	}
	return !twice, nil
}

var errFarEnough = errors.New("far enough")

// noteAll reads the rows before a record once more for their keys.
func (f *sifting) noteAll(ctx context.Context, before int64) error {
	f.keys.holdAll(f.sheet.Records)
	var cells [][]byte
	var near keyCursor
	err := f.sheet.eachRecord(ctx, func(rec int64, text []byte) error {
		if rec == before {
			return errFarEnough
		}
		cells, _ = sheets.SplitRow(text, ',', cells[:0])
		if up, hash, keyed := f.keyOfRow(cells, &near); keyed {
			f.keys.add(up, hash, uint32(rec)) //nolint:gosec // as above
		}
		return nil
	})
	if errors.Is(err, errFarEnough) {
		return nil
	}
	return err
}

// keyOfRow is the hash of a row's key, as take makes it; keyed is false for a row whose parent
// is not sound or whose key is none.
func (f *sifting) keyOfRow(cells [][]byte, near *keyCursor) (up uint32, hash uint64, keyed bool) {
	for j := range f.cols {
		c := &f.cols[j]
		if !c.isKey {
			continue
		}
		cell := cellAt(cells, f.at[j])
		_, value := c.sound(cell)
		if c.parent {
			if len(cell) == 0 {
				return 0, 0, false
			}
			if up = f.up.find(cell, near); !f.up.isSound(up) {
				return 0, 0, false
			}
		}
		if value = f.keyValue(c, cell, value, up); value == noValue {
			return 0, 0, false
		}
		hash = mix(hash, uint64(value)) //nolint:gosec // bits, no number
	}
	return up, hash, true
}

// keyValue is what a cell brings to its row's key: the number of the parent, the hash of a
// text, or what else the cell is worth.
func (f *sifting) keyValue(c *siftColumn, cell []byte, value int64, up uint32) int64 {
	switch {
	case len(cell) == 0:
		return value
	case c.parent:
		return int64(up) + 1
	case c.text:
		return int64(maphash.Bytes(f.seed, cell) | 1) //nolint:gosec // bits, no number
	}
	return value
}

// keySet holds hashes of keys with the first record of each. Two keys of one hash
// count as one: both rows are judged, and found different.
type keySet struct{ slots []keySlot }

type keySlot struct {
	tag uint32
	rec uint32 // + 1; 0 = free
}

func newKeySet(records int64) keySet {
	return keySet{make([]keySlot, max(fewSlots, records+records/2))}
}

// add notes a key of a record, or gives the record that had it before.
func (k *keySet) add(hash uint64, rec uint32) (before uint32, twice bool) {
	tag := uint32(hash) //nolint:gosec // the lower half; the upper bits say where to look
	for at := slotOf(hash, len(k.slots)); ; at = nextSlot(at, len(k.slots)) {
		switch s := &k.slots[at]; {
		case s.rec == 0:
			*s = keySlot{tag, rec + 1}
			return 0, false
		case s.tag == tag:
			return s.rec - 1, true
		}
	}
}

// mix folds a value into a hash.
func mix(hash, value uint64) uint64 {
	high, low := bits.Mul64(hash^0x9e3779b97f4a7c15, value^0xd6e8feb86659fd93)
	return high ^ low
}

// firsts tells the first record of every key of a table. Where every record brings a new
// key, that is one step.
type firsts []firstOf

// firstOf is a key from which on every key is one record behind the one before it.
type firstOf struct{ key, rec uint32 }

// note takes a new key.
func (f *firsts) note(key, rec uint32) {
	if n := len(*f); n == 0 || rec-key != (*f)[n-1].rec-(*f)[n-1].key {
		*f = append(*f, firstOf{key, rec})
	}
}

// of gives the first record of a key that was noted.
func (f firsts) of(key uint32) uint32 {
	low, high := 0, len(f)-1 // the last step at or before the key
	for low < high {
		if mid := (low + high + 1) / 2; f[mid].key <= key {
			low = mid
		} else {
			high = mid - 1
		}
	}
	return f[low].rec + key - f[low].key
}
