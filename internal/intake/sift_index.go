package intake

import (
	"bytes"
	"cmp"
	"hash/maphash"
	"math/bits"
	"slices"
	"sort"
	"sync"
)

// index numbers distinct keys in the order in which they come, and notes which of
// them are certain to be in the load. It compares the keys themselves, not only their
// hashes. As long as every key comes behind the one before it, as numbers that count up do,
// that they are distinct shows by itself, and no hash is made.
type index struct {
	seed  maphash.Seed
	slots []uint64 // the upper half of a key's hash and its number + 1; 0 = free; nil while keys are in order
	room  int      // how many slots there are to be
	arena []byte
	ends  []uint64 // of each key in arena
	sound bitset
	last  uint32 // rows of one case mostly stand together
}

func newIndex(seed maphash.Seed) *index { return &index{seed: seed, room: 1 << 10} }

// len is how many keys there are.
func (x *index) len() int { return len(x.ends) }

// key is the text of a key.
func (x *index) key(n uint32) []byte {
	from := uint64(0)
	if n > 0 {
		from = x.ends[n-1]
	}
	return x.arena[from:x.ends[n]]
}

// add gives the number of a key, and whether it is new.
func (x *index) add(key []byte) (n uint32, isNew bool) {
	for n := x.last; int(n) < len(x.ends) && n <= x.last+1; n++ { // and those of its children in the same order
		if bytes.Equal(x.key(n), key) {
			x.last = n
			return n, false
		}
	}
	if x.slots == nil {
		if len(x.ends) == 0 || keyOrder(x.key(uint32(len(x.ends)-1)), key) < 0 { //nolint:gosec // keys are fewer than records
			return x.append(key), true
		}
		x.makeRoom(max(x.room, 1<<bits.Len64(uint64(4*len(x.ends))))) //nolint:gosec // not negative
	}
	hash := maphash.Bytes(x.seed, key)
	at, n, known := x.hashed(hash, key)
	if known {
		x.last = n
		return n, false
	}
	n = x.append(key)
	x.slots[at] = hash>>32<<32 | uint64(n+1)
	if 2*len(x.ends) > len(x.slots) {
		x.makeRoom(2 * len(x.slots))
	}
	return n, true
}

// append gives a new key its number.
func (x *index) append(key []byte) (n uint32) {
	x.arena = append(x.arena, key...)
	x.ends = append(x.ends, uint64(len(x.arena)))
	x.last = uint32(len(x.ends) - 1) //nolint:gosec // keys are fewer than records
	return x.last
}

// keyOrder puts shorter keys first, so that numbers that count up are in order, with
// leading zeros or without.
func keyOrder(a, b []byte) int { return cmp.Or(cmp.Compare(len(a), len(b)), bytes.Compare(a, b)) }

// find gives the number of a key.
func (x *index) find(key []byte) (n uint32, known bool) {
	if x.slots != nil {
		_, n, known = x.hashed(maphash.Bytes(x.seed, key), key)
		return n, known
	}
	at, known := sort.Find(len(x.ends), func(i int) int { return keyOrder(key, x.key(uint32(i))) }) //nolint:gosec // keys are fewer than records
	return uint32(at), known                                                                        //nolint:gosec // likewise
}

// hashed gives the number of a key of this hash, or the slot where it would go.
func (x *index) hashed(hash uint64, key []byte) (at uint64, n uint32, known bool) {
	mask := uint64(len(x.slots) - 1)
	at = hash & mask
	for ; x.slots[at] != 0; at = (at + 1) & mask {
		if x.slots[at]>>32 == hash>>32 {
			if n := uint32(x.slots[at]) - 1; bytes.Equal(x.key(n), key) { //nolint:gosec // the lower half
				return at, n, true
			}
		}
	}
	return at, 0, false
}

// reserve says how many keys are to come.
func (x *index) reserve(keys int64) {
	x.room = max(x.room, 1<<bits.Len64(uint64(2*max(keys, 0)))) //nolint:gosec // not negative
	x.ends = slices.Grow(x.ends, int(keys))
}

// makeRoom makes so many slots and puts every key into its own. A slot has half of its
// key's hash, so that the hash is made again.
func (x *index) makeRoom(slots int) {
	x.slots = make([]uint64, slots)
	mask := uint64(len(x.slots) - 1)
	for n := range x.ends {
		hash := maphash.Bytes(x.seed, x.key(uint32(n))) //nolint:gosec // keys are fewer than records
		at := hash & mask
		for x.slots[at] != 0 {
			at = (at + 1) & mask
		}
		x.slots[at] = hash>>32<<32 | uint64(n+1) //nolint:gosec // as above
	}
}

func (x *index) setSound(n uint32)     { x.sound.set(int64(n)) }
func (x *index) isSound(n uint32) bool { return x.sound.has(int64(n)) }

// parent is the keys of a table that others hang on. While it is looked through itself,
// keys are added to its index. When its children are, several may be at once: the index
// stays as it is, and keys that only they name go to strays.
type parent struct {
	*index
	mu     sync.Mutex
	strays *index // numbered on behind the index
}

// find gives the number of a key that a child names. Near is the number that the child's
// row before had: rows of one parent mostly stand together, in the order of the parents.
func (p *parent) find(key []byte, near *uint32) (n uint32) {
	for n := *near; int(n) < p.len() && n <= *near+1; n++ {
		if bytes.Equal(p.index.key(n), key) {
			*near = n
			return n
		}
	}
	if n, known := p.index.find(key); known {
		*near = n
		return n
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	n, _ = p.strays.add(key)
	return uint32(p.len()) + n //nolint:gosec // keys are fewer than records
}

// key is the text of a key, also of one that only children name.
func (p *parent) key(n uint32) []byte {
	if int(n) < p.len() {
		return p.index.key(n)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.strays.key(n - uint32(p.len())) //nolint:gosec // as above
}

// keySet holds hashes of keys with the first record of each. Two keys of one hash
// count as one: both rows are judged, and found different.
type keySet struct {
	slots []keySlot
	n     int
}

type keySlot struct {
	tag uint32
	rec uint32 // + 1; 0 = free
}

func newKeySet(records int64) keySet {
	size := 1 << max(10, bits.Len64(uint64(max(records, 1)+records/2))) //nolint:gosec // not negative
	return keySet{slots: make([]keySlot, size)}
}

// add notes a key of a record, or gives the record that had it before.
func (k *keySet) add(hash uint64, rec uint32) (before uint32, twice bool) {
	mask := uint64(len(k.slots) - 1)
	tag := uint32(hash >> 32)
	for at := hash & mask; ; at = (at + 1) & mask {
		switch s := &k.slots[at]; {
		case s.rec == 0:
			*s = keySlot{tag, rec + 1}
			k.n++
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

// bitset is a set of small numbers.
type bitset []uint64

func newBitset(n int64) bitset { return make(bitset, n/64+1) }

func (b *bitset) set(n int64) {
	for int(n/64) >= len(*b) {
		*b = append(*b, 0)
	}
	(*b)[n/64] |= 1 << (n % 64)
}

func (b bitset) unset(n int64) {
	if b.has(n) {
		b[n/64] &^= 1 << (n % 64)
	}
}

func (b bitset) has(n int64) bool { return int(n/64) < len(b) && b[n/64]&(1<<(n%64)) != 0 }

func (b bitset) count() (n int64) {
	for _, w := range b {
		n += int64(bits.OnesCount64(w))
	}
	return n
}
