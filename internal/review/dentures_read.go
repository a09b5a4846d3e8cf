package review

import (
	"context"
	"database/sql"
	"fmt"
	"math/bits"
	"slices"
	"strconv"
	"sync"

	"afterfit/internal/habit"
	"afterfit/queries"
)

// denturesField is a small number in one of the whole numbers that denture_words gives
// for each denture.
type denturesField struct {
	Kind        string // as denture_words knows them
	Name        string
	Column      string // text: that of its number
	Times       int64  // its place value
	Last        int    // left: the day from which leaving makes no difference
	Zero, Most  int64  // value: what is added to hundredths of a mm, and what stands for not recorded
	word, width int    // the whole number that holds it, and its bits
}

// in takes the field out of a whole number.
func (f *denturesField) in(word int64) int64 {
	return word >> bits.TrailingZeros64(uint64(f.Times)) & (1<<f.width - 1)
}

// A measurement is a DECIMAL(7,2) at the most: below 10,000,000 hundredths, either way.
const (
	valueBits = 25
	valueZero = 10_000_000
)

// dentureReader reads dentures.
type dentureReader struct {
	q      *asker
	d      *dentures
	of     denturesColumns
	fields []denturesField
	atOnce int64          // numbers of dentures that are read at once
	packed []queries.Name // columns of the linked tables that come as they are, behind the words
	// How many rows there are, so that columns need not grow, and the highest number of a denture.
	dentures, highest, visits, spots int64
}

// codedColumns are the columns of codes that questions group by, besides those that are
// text: of contract codes, in the linked tables' order.
var (
	textColumns  = []string{"site", "clinician", "lab", "records_on"}
	nameColumns  = map[string]string{"site": "site_no", "clinician": "clinician_no", "lab": "lab_no", "records_on": "records_no"}
	codedColumns = []string{"arch", "age_band", "sex", "prior_denture", "course", "operator", "technique", "sized_by", "vertical_basis", "band_freeway", "band_clearance", "band_seating", "band_discomfort", "band_touches", "band_display"}
	valueColumns = []string{"freeway_mm", "clearance_max_mm", "display_off_mm"}
)

// denturesColumns are the columns that are read, besides the times that follow-up ended.
type denturesColumns struct {
	texts, coded, values []string
	habits               []habit.Habit
	rest                 bool // ridge classes, fields that are filled, readings on five
}

// allColumns are those of a pack.
var allColumns = denturesColumns{textColumns, codedColumns, valueColumns, habit.Catalogue, true}

func newDentureReader(q *asker, of denturesColumns) *dentureReader {
	return &dentureReader{q: q, of: of, atOnce: numbersAtOnce, d: &dentures{codes: map[string]*codes{}, habits: map[string][]uint8{}, values: map[string][]int32{}}}
}

func (r *dentureReader) read(ctx context.Context) error {
	q := r.q
	err := q.each(ctx, "denture_rows", func(rows *sql.Rows) error {
		return rows.Scan(&r.dentures, &r.highest, &r.visits, &r.spots)
	})
	if err != nil {
		return err
	}
	q.released = append(q.released, holdGrowth(r.dentures))
	levels := map[string][]string{}
	err = q.each(ctx, "denture_names", func(rows *sql.Rows) error {
		var field, name string
		var no int
		err := rows.Scan(&field, &no, &name)
		levels[field] = append(levels[field], make([]string, max(0, no-len(levels[field])))...)
		levels[field][no-1] = name
		return err
	})
	if err != nil {
		return err
	}
	r.layOut(levels)
	beside, err := q.another(ctx)
	if err != nil {
		return err
	}
	defer beside.end()
	words, err := r.words(ctx, beside)
	if err != nil {
		return err
	}
	// Putting the dentures in order and taking their columns apart needs no database.
	var visits, spots, firsts []int64
	err = atOnce(ctx, func() error { return r.sort(words) },
		func() (err error) { visits, err = r.numbers(ctx, q, "denture_visits", "seen", r.visits); return err },
		func() (err error) {
			if spots, err = r.numbers(ctx, beside, "denture_spots", "spot", r.spots); err == nil {
				firsts, err = r.numbers(ctx, beside, "denture_firsts", "first", 0)
			}
			return err
		})
	if err != nil {
		return err
	}
	r.d.firsts = make([][]uint16, len(firstOutcomes))
	for k := range r.d.firsts {
		r.d.firsts[k] = slices.Repeat([]uint16{noDay}, r.d.n)
	}
	return atOnce(ctx, func() error { return r.unpack(ctx, words, levels) },
		func() error { return r.placeVisits(visits) },
		func() error { r.placeFirsts(firsts); return r.placeSpots(spots) })
}

// layOut gives every field its place.
func (r *dentureReader) layOut(levels map[string][]string) {
	for _, t := range r.of.texts {
		r.fields = append(r.fields, denturesField{Kind: "text", Name: t, Column: nameColumns[t], width: bits.Len(uint(len(levels[t])))})
	}
	if r.of.rest {
		r.fields = append(r.fields, denturesField{Kind: "number", Name: "ridge_class", width: 3}) // 1-4 by the contract
	}
	for _, v := range r.of.values {
		r.fields = append(r.fields, denturesField{Kind: "value", Name: v, Zero: valueZero, Most: 1<<valueBits - 1, width: valueBits})
	}
	if r.of.rest {
		r.fields = append(r.fields, denturesField{Kind: "filled", width: 3}, denturesField{Kind: "five", width: 2})
	}
	last := r.q.lastDay() + 1
	r.fields = append(r.fields, denturesField{Kind: "left", Last: last, width: bits.Len(uint(2*last + 1))})
	word, used := 1, 0
	for i := range r.fields {
		f := &r.fields[i]
		if used+f.width > 62 {
			word, used = word+1, 0
		}
		f.word, f.Times = word, 1<<used
		used += f.width
	}
	r.layOutPacked(word)
}

// layOutPacked gives codes and habits their places behind the last word: the linked tables
// have them packed, and these columns are read as they are.
func (r *dentureReader) layOutPacked(last int) {
	if len(r.of.coded) > 0 {
		last++
		r.packed = append(r.packed, codesColumn)
		for _, p := range codePlaces {
			if slices.Contains(r.of.coded, p.Column.String()) {
				r.fields = append(r.fields, denturesField{Kind: "code", Name: p.Column.String(), Times: p.One, word: last, width: bits.Len64(uint64(p.Mask))})
			}
		}
	}
	asked := map[string]bool{}
	for _, h := range r.of.habits {
		asked[h.Column()] = true
	}
	for _, w := range habitWords {
		if !slices.ContainsFunc(w.Habits, func(h habitPlace) bool { return asked[h.Column.String()] }) {
			continue
		}
		last++
		r.packed = append(r.packed, w.Name)
		for _, h := range w.Habits {
			if asked[h.Column.String()] {
				r.fields = append(r.fields, denturesField{Kind: "habit", Name: h.Column.String(), Times: h.Yes, word: last, width: 2})
			}
		}
	}
}

// numbersAtOnce is how many numbers of dentures a statement reads, as it joins them with their
// cases in memory. It is even: a case and its dentures come together.
const numbersAtOnce = 1 << 21

// wordsFill is what denture_words is filled with.
type wordsFill struct {
	Words       [][]denturesField
	Packed      []queries.Name
	Place       map[string]codePlace
	First, Last int64
}

// someWords are the whole numbers of some dentures in the order read, one slice for each place.
type someWords [][]int64

// words reads the whole numbers of all dentures: those of the lower half of the numbers, and
// beside it, over another connection, those of the upper half.
func (r *dentureReader) words(ctx context.Context, beside *asker) ([]someWords, error) {
	fill := wordsFill{Packed: r.packed, Place: placeOf}
	for _, f := range r.fields {
		if f.Kind == "habit" || f.Kind == "code" {
			continue
		}
		if f.word > len(fill.Words) {
			fill.Words = append(fill.Words, nil)
		}
		fill.Words[f.word-1] = append(fill.Words[f.word-1], f)
	}
	half, words := (r.highest/2+1)/2*2, make([]someWords, 2)
	return words, atOnce(ctx, func() (err error) {
		words[0], err = r.wordsOf(ctx, r.q, fill, 0, half-1)
		return err
	}, func() (err error) {
		words[1], err = r.wordsOf(ctx, beside, fill, half, r.highest)
		return err
	})
}

// wordsOf reads those of the dentures with these numbers, piece by piece.
func (r *dentureReader) wordsOf(ctx context.Context, q *asker, fill wordsFill, first, last int64) (someWords, error) {
	columns := []string{"denture"}
	for i := range fill.Words {
		columns = append(columns, fmt.Sprintf("word_%d", i))
	}
	for _, p := range fill.Packed {
		columns = append(columns, p.String())
	}
	words := make(someWords, len(columns))
	for i := range words {
		words[i] = make([]int64, 0, r.dentures*9/16) // about half of them
	}
	for ; first <= last; first += r.atOnce {
		fill.First, fill.Last = first, min(last, first+r.atOnce-1)
		err := q.eachWord(ctx, "denture_words", fill, columns, func(rows [][]int64) {
			for i, some := range rows {
				words[i] = append(words[i], some...)
			}
		})
		if err != nil {
			return nil, err
		}
	}
	return words, nil
}

// unpack puts the whole numbers in the order of the dentures and takes the fields out of them,
// and lets go of each when it has all of its fields.
func (r *dentureReader) unpack(ctx context.Context, words []someWords, levels map[string][]string) error {
	ordered, err := r.inOrder(ctx, words)
	if err != nil {
		return err
	}
	left := make([]int, len(ordered)) // fields
	for _, f := range r.fields {
		left[f.word]++
	}
	var mu sync.Mutex // of the maps, and of left
	err = sideBySide(ctx, r.fields, func(f denturesField) error {
		keep := r.column(f, levels, ordered[f.word])
		mu.Lock()
		defer mu.Unlock()
		keep()
		if left[f.word]--; left[f.word] == 0 {
			ordered[f.word] = nil
		}
		return nil
	})
	if slices.Contains(r.of.coded, "arch") {
		r.d.codes["arch"] = r.d.arches()
	}
	if on := r.d.codes["records_on"]; on != nil {
		r.d.codes["quarter"] = on.renamed(quarterOf)
		r.d.codes["year"] = on.renamed(func(period string) string { return period[:min(len(period), 4)] })
	}
	return err
}

// column makes a field's column of whole numbers that hold it, and returns what puts it where
// it belongs.
func (r *dentureReader) column(f denturesField, levels map[string][]string, words []int64) (keep func()) {
	switch f.Kind {
	case "habit":
		into := make([]uint8, r.d.n)
		take(into, &f, words)
		for i, side := range into { // 1 more in the upper arch, but where it cannot be assessed
			into[i] = 2*side | uint8(r.d.no[i]&1)&^(side/notAssessable)
		}
		return func() { r.d.habits[f.Name] = into }
	case "filled", "five":
		into := make([]uint8, r.d.n)
		take(into, &f, words)
		return func() {
			if f.Kind == "filled" {
				r.d.filled = into
			} else {
				r.d.onFive = into
			}
		}
	case "value":
		into := make([]int32, r.d.n)
		take(into, &f, words)
		for i, v := range into {
			if into[i] = noValue; int64(v) != f.Most {
				into[i] = v - valueZero
			}
		}
		return func() { r.d.values[f.Name] = into }
	case "left":
		into := make([]uint16, r.d.n)
		take(into, &f, words)
		return func() { r.d.left = into }
	}
	of := make([]uint32, r.d.n)
	take(of, &f, words)
	c := newCodes(of, f.levels(levels))
	return func() { r.d.codes[f.Name] = c }
}

// take takes a field out of whole numbers.
func take[T uint8 | uint16 | int32 | uint32](into []T, f *denturesField, words []int64) {
	shift, mask := uint(bits.TrailingZeros64(uint64(f.Times)))&63, int64(1)<<f.width-1
	for i, w := range words[:len(into)] {
		into[i] = T(w >> shift & mask)
	}
}

// levels are the names of what a field's numbers from 1 stand for.
func (f *denturesField) levels(texts map[string][]string) []string {
	switch f.Kind {
	case "text":
		return texts[f.Name]
	case "code":
		return linkCodes[f.Name].List()
	}
	out := make([]string, 1<<f.width-1)
	for i := range out {
		out[i] = strconv.Itoa(i + 1)
	}
	return out
}
