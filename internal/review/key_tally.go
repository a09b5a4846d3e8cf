package review

// keyTally counts whole numbers of which a few come most of the time: those last seen are
// counted in a small table, the rest in a map.
type keyTally struct {
	counted map[uint64]int64
	last    [1 << 12]struct {
		key uint64
		n   int64
	}
}

func (t *keyTally) add(key uint64) {
	at := &t.last[key*0x9E3779B97F4A7C15>>52] // the top bits of a product with an odd number hang on all of the key's
	if at.key != key {
		if at.n > 0 {
			t.counted[at.key] += at.n
		}
		at.key, at.n = key, 0
	}
	at.n++
}

// all gives the counts. The tally is done with then.
func (t *keyTally) all() map[uint64]int64 {
	for _, at := range t.last {
		if at.n > 0 {
			t.counted[at.key] += at.n
		}
	}
	return t.counted
}
