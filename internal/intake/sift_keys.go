package intake

import (
	"bytes"
	"encoding/binary"
	"sort"
)

// keyList is keys by their number, in blocks, so that none is copied when more come.
// As long as every key comes behind the one before it, keys are packed: each is written as
// how many letters at the end of the one before it give way, and to which. Of numbers that
// count up that is some two bytes a key.
type keyList struct {
	plain  bool // keys came in any order, and each is written whole
	blocks [][]byte
	heads  []uint64 // of every group, where its first key is: its block and its place there
	n      int
	last   []byte // the last key, while packed
}

const (
	keyBlock    = 64 << 10 // bytes of a block, if no group is larger
	keyBlockEnd = 1 << 10  // a group begins no nearer to the end of a block
	packedGroup = 32       // keys of a group; the first is written whole
	plainGroup  = 4
	fewLetters  = 15 // letters that give way or come, in half a byte; more are written out
	manyLetters = 0xff
)

// group is how many keys a group has.
func (l *keyList) group() int {
	if l.plain {
		return plainGroup
	}
	return packedGroup
}

// append adds a key. While the list is packed it must stand behind the last one.
func (l *keyList) append(key []byte) {
	whole := l.plain
	if l.n%l.group() == 0 {
		whole = true
		if n := len(l.blocks); n == 0 {
			l.blocks = append(l.blocks, nil)
		} else if len(l.blocks[n-1]) > keyBlock-keyBlockEnd {
			l.blocks = append(l.blocks, make([]byte, 0, keyBlock))
		}
		at := len(l.blocks) - 1
		l.heads = append(l.heads, uint64(at)<<32|uint64(len(l.blocks[at]))) //nolint:gosec // not negative
	}
	block := l.blocks[len(l.blocks)-1]
	if whole {
		block = append(binary.AppendUvarint(block, uint64(len(key))), key...)
	} else {
		block = appendStep(block, l.last, key)
	}
	l.blocks[len(l.blocks)-1] = block
	if l.n++; !l.plain {
		l.last = append(l.last[:0], key...)
	}
}

// appendStep writes what makes a key of the one before it.
func appendStep(block, before, key []byte) []byte {
	same, most := 0, min(len(before), len(key))
	for same < most && before[same] == key[same] {
		same++
	}
	away, come := len(before)-same, len(key)-same
	if away < fewLetters && come < fewLetters {
		block = append(block, byte(away<<4|come))
	} else {
		block = binary.AppendUvarint(append(block, manyLetters), uint64(away)) //nolint:gosec // not negative
		block = binary.AppendUvarint(block, uint64(come))                      //nolint:gosec // likewise
	}
	return append(block, key[same:]...)
}

// from gives what a group's keys are written in, from the first of them on.
func (l *keyList) from(group int) []byte {
	at := l.heads[group]
	return l.blocks[at>>32][uint32(at):] //nolint:gosec // the lower half
}

// at is the text of a key of a plain list, lent.
func (l *keyList) at(n uint32) []byte {
	rest := l.from(int(n / plainGroup))
	for range n % plainGroup {
		_, rest = cutWhole(rest)
	}
	key, _ := cutWhole(rest)
	return key
}

// cutWhole takes off a key that is written whole.
func cutWhole(from []byte) (key, rest []byte) {
	if n := int(from[0]); n < 0x80 {
		return from[1 : 1+n], from[1+n:]
	}
	n, used := binary.Uvarint(from)
	end := used + int(n) //nolint:gosec // the length of a cell
	return from[used:end], from[end:]
}

// unpack writes every key whole.
func (l *keyList) unpack() {
	plain := keyList{plain: true}
	for c := (keyCursor{list: l, n: -1}); c.next(); {
		plain.append(c.key)
	}
	*l = plain
}

// keyCursor walks along the keys of a list that stays as it is meanwhile.
type keyCursor struct {
	list *keyList
	n    int    // number of the key where it stands; -1 = before the first
	key  []byte // and its text, until it goes on
	rest []byte // what follows in its group
}

// next goes to the next key; false, and it stays, where there is none.
func (c *keyCursor) next() bool {
	if c.n+1 >= c.list.n {
		return false
	}
	c.n++
	first := c.n%c.list.group() == 0
	if first {
		c.rest = c.list.from(c.n / c.list.group())
	}
	if first || c.list.plain {
		var key []byte
		key, c.rest = cutWhole(c.rest)
		c.key = append(c.key[:0], key...)
		return true
	}
	away, come := int(c.rest[0]>>4), int(c.rest[0]&0xf)
	if c.rest[0] != manyLetters {
		c.rest = c.rest[1:]
	} else {
		a, used := binary.Uvarint(c.rest[1:])
		b, more := binary.Uvarint(c.rest[1+used:])
		away, come, c.rest = int(a), int(b), c.rest[1+used+more:] //nolint:gosec // lengths of cells
	}
	c.key = append(c.key[:len(c.key)-away], c.rest[:come]...)
	c.rest = c.rest[come:]
	return true
}

// seek goes to a key.
func (c *keyCursor) seek(n int) {
	group := c.list.group()
	if n < c.n || n/group != c.n/group || c.n < 0 {
		c.n = n/group*group - 1
	}
	for c.n < n {
		c.next()
	}
}

// nearBy is how many keys a cursor walks on before it looks for a key among all.
const nearBy = 64

// find goes to a key of a packed list, or, where the list does not have it, to a place from
// which to look for others.
func (c *keyCursor) find(key []byte) (known bool) {
	if c.n >= 0 {
		way := keyOrder(c.key, key)
		for i := 0; way < 0 && i < nearBy && c.next(); i++ {
			if way = keyOrder(c.key, key); way > 0 {
				return false
			}
		}
		if way == 0 {
			return true
		}
		if way < 0 && c.n+1 == c.list.n {
			return false
		}
	}
	group := sort.Search(len(c.list.heads), func(i int) bool {
		head, _ := cutWhole(c.list.from(i))
		return keyOrder(head, key) > 0
	}) - 1
	if group < 0 {
		return false
	}
	c.seek(group * packedGroup)
	for last := min(group*packedGroup+packedGroup, c.list.n) - 1; c.n < last && keyOrder(c.key, key) < 0; {
		c.next()
	}
	return bytes.Equal(c.key, key)
}
