package intake

import (
	"bytes"
	"cmp"
	"hash/maphash"
	"math/bits"
	"sync"
)

// index numbers distinct keys in the order in which they come, and notes which of
// them are certain to be in the load. It compares the keys themselves, not only their
// hashes. As long as every key comes behind the one before it, as numbers that count up do,
// that they are distinct shows by itself, and no hash is made.
type index struct {
	seed  maphash.Seed
	keys  keyList
	slots []uint64 // half of a key's hash, and its number + 1; 0 = free; nil while keys are in order
	room  int      // how many keys there are to be
	sound bitset
	last  uint32 // rows of one case mostly stand together
}

func newIndex(seed maphash.Seed) *index { return &index{seed: seed} }

// len is how many keys there are.
func (x *index) len() int { return x.keys.n }

// key is the text of a key.
func (x *index) key(n uint32) []byte {
	if x.keys.plain {
		return x.keys.at(n)
	}
	c := x.walk()
	c.seek(int(n))
	return c.key
}

// walk gives a way along the keys.
func (x *index) walk() *keyCursor { return &keyCursor{list: &x.keys, n: -1} }

// add gives the number of a key, and whether it is new.
func (x *index) add(key []byte) (n uint32, isNew bool) {
	if x.slots == nil {
		way := -1
		if x.keys.n > 0 {
			way = keyOrder(x.keys.last, key)
		}
		switch {
		case way == 0:
			return x.last, false
		case way < 0:
			return x.append(key), true
		}
		x.keys.unpack()
		x.makeRoom(max(x.room, 2*x.keys.n))
	}
	for n := x.last; int(n) < x.keys.n && n <= x.last+1; n++ { // and those of its children in the same order
		if bytes.Equal(x.keys.at(n), key) {
			x.last = n
			return n, false
		}
	}
	hash := maphash.Bytes(x.seed, key)
	at, n, known := x.hashed(hash, key)
	if known {
		x.last = n
		return n, false
	}
	n = x.append(key)
	x.slots[at] = hash<<32 | uint64(n+1)
	if 10*x.keys.n > 7*len(x.slots) {
		x.makeRoom(2 * x.keys.n)
	}
	return n, true
}

// append gives a new key its number.
func (x *index) append(key []byte) (n uint32) {
	x.keys.append(key)
	x.last = uint32(x.keys.n - 1) //nolint:gosec // keys are fewer than records
	return x.last
}

// keyOrder puts shorter keys first, so that numbers that count up are in order, with
// leading zeros or without.
func keyOrder(a, b []byte) int { return cmp.Or(cmp.Compare(len(a), len(b)), bytes.Compare(a, b)) }

// find gives the number of a key. Near is where the key before it was found: rows of one
// parent mostly stand together, in the order of the parents. It starts as its zero value.
func (x *index) find(key []byte, near *keyCursor) (n uint32, known bool) {
	if near.list == nil {
		*near = *x.walk()
	}
	if x.slots == nil {
		known = near.find(key)
		return uint32(near.n), known //nolint:gosec // keys are fewer than records
	}
	if near.n >= 0 && bytes.Equal(near.key, key) || near.next() && bytes.Equal(near.key, key) {
		return uint32(near.n), true //nolint:gosec // as above
	}
	if _, n, known = x.hashed(maphash.Bytes(x.seed, key), key); known {
		near.seek(int(n))
	}
	return n, known
}

// hashed gives the number of a key of this hash, or the slot where it would go. The upper
// bits of the hash say where to look, the lower half stands in the slot.
func (x *index) hashed(hash uint64, key []byte) (at int, n uint32, known bool) {
	at = slotOf(hash, len(x.slots))
	for ; x.slots[at] != 0; at = nextSlot(at, len(x.slots)) {
		if x.slots[at]>>32 == hash&(1<<32-1) {
			if n := uint32(x.slots[at]) - 1; bytes.Equal(x.keys.at(n), key) { //nolint:gosec // the lower half
				return at, n, true
			}
		}
	}
	return at, 0, false
}

// slotOf spreads hashes over so many slots.
func slotOf(hash uint64, slots int) int {
	at, _ := bits.Mul64(hash, uint64(slots)) //nolint:gosec // not negative
	return int(at)                           //nolint:gosec // below slots
}

func nextSlot(at, slots int) int {
	if at++; at < slots {
		return at
	}
	return 0
}

// reserve says how many keys are to come.
func (x *index) reserve(keys int64) { x.room = max(x.room, int(keys)) }

// fewSlots is the least number of slots.
const fewSlots = 1 << 10

// makeRoom makes slots for so many keys and puts every key into its own. A slot has half of
// its key's hash, so that the hash is made again.
func (x *index) makeRoom(keys int) {
	x.slots = make([]uint64, max(fewSlots, keys+keys/2))
	for c := x.walk(); c.next(); {
		hash := maphash.Bytes(x.seed, c.key)
		at := slotOf(hash, len(x.slots))
		for x.slots[at] != 0 {
			at = nextSlot(at, len(x.slots))
		}
		x.slots[at] = hash<<32 | uint64(c.n+1) //nolint:gosec // not negative
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

// find gives the number of a key that a child names. Near is where the child's row before
// was found.
func (p *parent) find(key []byte, near *keyCursor) (n uint32) {
	if n, known := p.index.find(key, near); known {
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
