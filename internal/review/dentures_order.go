package review

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
)

// sort puts the dentures in their order.
func (r *dentureReader) sort(words []someWords) error {
	keys := slices.Concat(words[0][0], words[1][0])
	if len(keys) > math.MaxInt32 {
		return fmt.Errorf("%d dentures are more than %d, the most that one store's comparisons can hold", len(keys), math.MaxInt32)
	}
	slices.Sort(keys)
	d := r.d
	d.n, d.no, d.rows = len(keys), make([]int32, 0, len(keys)), slices.Repeat([]int32{-1}, int(r.highest+1))
	for _, p := range r.leading(words, keys) {
		d.patients, d.numbers = append(d.patients, int32(len(d.no))), append(d.numbers, int32(keys[p.from]>>31))
		for _, k := range keys[p.from:p.to] {
			no := int32(k & math.MaxInt32)
			d.rows[no] = int32(len(d.no))
			d.no = append(d.no, no)
		}
	}
	d.patients = append(d.patients, int32(len(keys)))
	return nil
}

// leadingPatient is a patient whose dentures have the keys from one place to another, and a
// number by which patients are put in order.
type leadingPatient struct {
	like     int64
	from, to int32
}

// leading are the patients in the order in which they are held, of sorted keys: those of one
// clinician stand together, by the clinician of the first denture, and of these those alike
// in case mix. Whatever is counted of dentures by clinician and case mix lies near the
// processor then while one walks along them. No figure hangs on that order.
func (r *dentureReader) leading(words []someWords, keys []int64) (patients []leadingPatient) {
	like, from := r.likes(words), 0
	for i, k := range keys {
		if i+1 == len(keys) || keys[i+1]>>31 != k>>31 {
			patients = append(patients, leadingPatient{like[keys[from]&math.MaxInt32], int32(from), int32(i + 1)})
			from = i + 1
		}
	}
	slices.SortFunc(patients, func(a, b leadingPatient) int { return cmp.Or(cmp.Compare(a.like, b.like), cmp.Compare(a.from, b.from)) })
	return patients
}

// likes are a number for each denture, by its own number, in whose order those of one clinician
// stand together, and among them those of cases alike; 0 where neither is read.
func (r *dentureReader) likes(words []someWords) []int64 {
	like := make([]int64, r.highest+1)
	for _, f := range r.fields {
		if f.Kind == "code" && placeOf[f.Name].Of != ofCase || f.Kind != "code" && f.Name != "clinician" {
			continue
		}
		up := 32
		if f.Kind == "code" {
			up = placeOf[f.Name].Shift
		}
		for _, w := range words {
			for i, k := range w[0] {
				like[k&math.MaxInt32] |= f.in(w[f.word][i]) << up
			}
		}
	}
	return like
}

// inOrder puts the whole numbers in the order of the dentures, place by place, those of the
// first place aside, which are the dentures themselves.
func (r *dentureReader) inOrder(ctx context.Context, words []someWords) ([][]int64, error) {
	at := make([][]int32, len(words))
	for k, w := range words {
		at[k] = make([]int32, len(w[0]))
		for i, key := range w[0] {
			at[k][i] = r.d.rows[key&math.MaxInt32]
		}
		w[0] = nil
	}
	ordered := make([][]int64, len(words[0]))
	return ordered, onAllCores(ctx, len(ordered)-1, func(i int) error {
		place := i + 1
		ordered[place] = make([]int64, r.d.n)
		for k, w := range words {
			for i, v := range w[place] {
				ordered[place][at[k][i]] = v
			}
			w[place] = nil
		}
		return nil
	})
}
