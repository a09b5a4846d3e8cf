package page

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A finding that counts one of something says so in the singular.
func TestFindingsOfOneAgreeWithTheirNoun(t *testing.T) {
	w := storyOptions().words()
	assert.Equal(t, "Too few to tell: 1 event with the habit and 21 without.", w.found("Too few to tell: 1 events with the habit and 21 without."))
	assert.Equal(t, "Too few to tell: 11 events in 1 denture with a recorded value; a curve needs 0.1 events.", w.found("Too few to tell: 11 events in 1 dentures with a recorded value; a curve needs 0.1 events."))
	assert.Equal(t, "upper: 1 adjustment visit", w.found("upper: 1 adjustment visits"))
	assert.Equal(t, "3,001 events", w.found("3,001 events"))
}
