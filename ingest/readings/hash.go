package readings

import "math/bits"

// scatter is the odd number nearest to 2^64 over the golden ratio; the high
// bits of a product with it spread keys that follow one another (Knuth 1998, 6.4).
const scatter = 0x9e3779b97f4a7c15

// table64 maps 64-bit keys to positions by open addressing with linear probing.
type table64 struct {
	keys  []uint64
	vals  []int32 // position + 1; 0: free
	n     int
	shift uint
}

// reset empties the table and keeps its room.
func (t *table64) reset() {
	clear(t.vals)
	t.n = 0
}

// get returns the position of key, or -1.
func (t *table64) get(key uint64) int32 {
	if len(t.vals) == 0 {
		return -1
	}
	mask := uint64(len(t.vals) - 1)
	for i := key * scatter >> t.shift; ; i = (i + 1) & mask {
		v := t.vals[i]
		if v == 0 {
			return -1
		}
		if t.keys[i] == key {
			return v - 1
		}
	}
}

// put adds a key that is not in the table.
func (t *table64) put(key uint64, val int32) {
	if 2*(t.n+1) > len(t.vals) {
		t.grow()
	}
	t.insert(key, val)
	t.n++
}

func (t *table64) insert(key uint64, val int32) {
	mask := uint64(len(t.vals) - 1)
	i := key * scatter >> t.shift
	for t.vals[i] != 0 {
		i = (i + 1) & mask
	}
	t.keys[i], t.vals[i] = key, val+1
}

func (t *table64) grow() {
	keys, vals := t.keys, t.vals
	size := max(64, 2*len(vals))
	t.keys, t.vals = make([]uint64, size), make([]int32, size)
	t.shift = uint(64 - bits.Len(uint(size-1)))
	for i, v := range vals {
		if v != 0 {
			t.insert(keys[i], v-1)
		}
	}
}
