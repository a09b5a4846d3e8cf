package stats

import (
	"fmt"
	"slices"
)

// limitSearch looks for the smallest limit with at least the run length wanted, where a
// higher limit has a longer one. It keeps the highest limit known to be too low, and the
// lowest known not to be with its run length.
type limitSearch struct {
	want      float64
	length    func(limit float64) (float64, error)
	low, high float64
	achieved  float64   // at high, once it was worked out
	jumps     []float64 // where run lengths may jump, ascending
	err       error     // the first; the search then ends
}

// limitWidth is how far, relative to the limit, it is narrowed down.
const limitWidth = 1e-6

// smallest multiplies a step by 1.5 until it is enough, and halves the last stretch
// until it is narrow enough. What is known of other limits only spares run lengths: it does
// not change which limits that leads to.
func (s *limitSearch) smallest(step float64) (limit, achieved float64, err error) {
	lo, hi := 0.0, step
	for range 200 {
		if !s.tooLow(hi) {
			break
		}
		lo, hi = hi, hi*1.5
	}
	for range 200 { // towards 0 where any limit is enough
		if !(hi-lo > limitWidth*hi) || s.err != nil {
			break
		}
		s.overJumps()
		if mid := lo + (hi-lo)/2; s.tooLow(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	if s.high != hi || s.achieved == 0 {
		s.try(hi)
	}
	if s.err != nil {
		return 0, 0, s.err
	}
	if s.high != hi || s.achieved < s.want {
		return 0, 0, fmt.Errorf("no limit gives a run length of %g: %w", s.want, ErrNoConvergence)
	}
	return hi, s.achieved, nil
}

// tooLow tells whether the run length at a limit is shorter than the one wanted.
func (s *limitSearch) tooLow(limit float64) bool {
	if limit > s.low && limit < s.high {
		s.try(limit)
	}
	return limit <= s.low
}

// try works a limit's run length out.
func (s *limitSearch) try(limit float64) {
	l, err := s.length(limit)
	switch {
	case err != nil:
		s.err = err
	case l >= s.want:
		s.high, s.achieved = limit, l
	default:
		s.low = limit
	}
}

// overJumps looks where the wanted run length may be jumped over, once few jumps are left
// between the two known limits: it halves the jumps and then tries a limit just past the
// last that is too low. Where that is enough, nothing is left to halve.
func (s *limitSearch) overJumps() {
	for s.err == nil {
		from, on := slices.BinarySearch(s.jumps, s.low)
		to, _ := slices.BinarySearch(s.jumps, s.high)
		past := s.low * (1 + limitWidth/4)
		switch {
		case on && to == from+1 && past < s.high:
			s.try(past)
			return
		case on:
			from++
		}
		if from >= to || to-from > fewJumps {
			return
		}
		s.try(s.jumps[(from+to)/2])
	}
}

// fewJumps are so few that halving them is quicker than halving the stretch.
const fewJumps = 32
