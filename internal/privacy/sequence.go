package privacy

import "strings"

// minKeys is how many keys it takes to speak of how they count. House rule.
const minKeys = 20

// sequence says whether a key counts like a practice's charts: numbers from one
// stretch of what their length allows, with gaps. Keys without gaps are a running
// number of the export, which says nothing of the person; random codes use the
// whole range. With 20 random keys or more, the widest gap to either end leaves
// less than half the range in fewer than 1 in 10,000 exports.
func (c Column) sequence(b Basis) []Finding {
	var all, longest Span
	first, last := 0.0, 0.0
	for _, s := range c.Spans {
		letters := strings.TrimRight(s.Shape, "9")
		digits := len(s.Shape) - len(letters)
		lo, hi, ok := s.ends(digits)
		if !ok || all.Distinct > 0 && all.Min[:len(all.Shape)] != s.Min[:len(letters)] {
			return nil
		}
		if all.Distinct == 0 {
			all.Shape, all.Min, first, last = letters, s.Min, lo, hi
		}
		first, last = min(first, lo), max(last, hi)
		all.Distinct, all.Rows = all.Distinct+s.Distinct, all.Rows+s.Rows
		if len(s.Shape) > len(longest.Shape) {
			longest = s
		}
	}
	if all.Distinct < minKeys || float64(all.Distinct) >= dense*(last-first+1) {
		return nil
	}
	lo, hi, _ := longest.ends(len(longest.Shape) - len(all.Shape))
	room := number(strings.Repeat("9", len(longest.Shape)-len(all.Shape))) + 1
	lengths := float64(longest.Distinct) < 0.8*float64(all.Distinct)
	if !lengths && hi-lo+1 >= 0.5*0.9*room {
		return nil
	}
	return c.finding(b, ChartNumber, all.Rows, longest.Min, "numbers from one narrow stretch, with gaps")
}
