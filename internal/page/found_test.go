package page

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"afterfit/internal/review"
)

// A finding that counts one of something says so in the singular.
func TestFindingsOfOneAgreeWithTheirNoun(t *testing.T) {
	w := storyOptions().words()
	assert.Equal(t, "Too few to tell: 1 event with the habit and 21 without.", w.found("Too few to tell: 1 events with the habit and 21 without."))
	assert.Equal(t, "Too few to tell: 11 events in 1 denture with a recorded value; a curve needs 0.1 events.", w.found("Too few to tell: 11 events in 1 dentures with a recorded value; a curve needs 0.1 events."))
	assert.Equal(t, "upper: 1 adjustment visit", w.found("upper: 1 adjustment visits"))
	assert.Equal(t, "3,001 events", w.found("3,001 events"))
}

// A difference that rounds to nothing is no "0.0 fewer".
func TestNoDifferenceIsNotFewer(t *testing.T) {
	w, p := storyOptions().words(), story().Pairs[0]
	p.Grade = review.Unclear
	assert.Contains(t, w.paired(p), " more ")
	p.Within.Difference.Value = -0.001
	assert.Contains(t, w.paired(p), "had about as many")
	assert.Contains(t, w.paired(p), "This may be chance.")
	assert.NotContains(t, w.paired(p), "fewer")
}

// A handful of dentures has neither a rate nor a pace to plan with.
func TestHowLongNeedsDentures(t *testing.T) {
	w, f := storyOptions().words(), story()
	assert.Contains(t, howLong(f, w).Lead, "at the present pace")
	f.Coverage.Delivered = 2
	assert.Equal(t, "Too few to tell: 2 dentures, 10 or more are needed.", howLong(f, w).Lead)
	assert.Empty(t, howLong(f, w).Figures)
}
