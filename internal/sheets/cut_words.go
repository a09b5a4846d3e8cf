package sheets

import (
	"encoding/binary"
	"math/bits"
)

// Cells have some six bytes: looking for the end of each by itself takes longer than
// looking at eight bytes of the record at a time.

const (
	ones  = 0x0101010101010101
	highs = 0x8080808080808080
)

// zeros has the high bit of every byte of w that is 0.
func zeros(w uint64) uint64 { return ^((w&^highs + ^uint64(highs)) | w | ^uint64(highs)) }

// SplitRow is SplitBytes that also reports whether the record is ASCII alone.
func SplitRow(text []byte, delim byte, dst [][]byte) (cells [][]byte, ascii bool) {
	delims, quotes := ones*uint64(delim), uint64(ones*'"')
	from, i, all, cells := 0, 0, uint64(0), dst
	for ; i+8 <= len(text); i += 8 {
		w := binary.LittleEndian.Uint64(text[i:])
		if zeros(w^quotes) != 0 {
			return SplitBytes(text, delim, dst), isASCII(text)
		}
		all |= w
		for at := zeros(w ^ delims); at != 0; at &= at - 1 {
			end := i + bits.TrailingZeros64(at)>>3
			cells = append(cells, text[from:end])
			from = end + 1
		}
	}
	for ; i < len(text); i++ {
		switch b := text[i]; b {
		case '"':
			return SplitBytes(text, delim, dst), isASCII(text)
		case delim:
			cells = append(cells, text[from:i])
			from = i + 1
		default:
			all |= uint64(b)
		}
	}
	return append(cells, text[from:]), all&highs == 0
}

// isASCII reports a text without letters of more than one byte.
func isASCII(text []byte) bool {
	for _, b := range text {
		if b >= 0x80 {
			return false
		}
	}
	return true
}
