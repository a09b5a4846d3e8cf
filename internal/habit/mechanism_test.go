package habit

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"afterfit/internal/bundle"
)

// Every zone of the contract has its pointer and no other zone has one.
func TestPointersCoverTheContract(t *testing.T) {
	for _, arch := range []string{"upper", "lower"} {
		var zones []string
		for _, p := range Pointers {
			if p.Arch == arch {
				zones = append(zones, p.Zone)
				assert.NotEmpty(t, p.LookAt)
				assert.Equal(t, practice, p.Source)
			}
		}
		assert.ElementsMatch(t, bundle.Zones(arch), zones, arch)
	}
	_, ok := PointerFor("upper", "torus")
	assert.False(t, ok)
	p, ok := PointerFor("lower", "mental_foramen")
	assert.True(t, ok)
	assert.Contains(t, p.LookAt, "a numb lip must be asked about")
}

func TestPatternsAreFound(t *testing.T) {
	for _, id := range []string{BorderOnly, OneSide, WholeRidge, MovingAbout} {
		p, ok := PatternOf(id)
		assert.True(t, ok, id)
		assert.NotEmpty(t, p.LookAt)
	}
	_, ok := PatternOf("nothing")
	assert.False(t, ok)
	assert.Len(t, Patterns, 4)
}

// A zone is a border, a crest or neither, and both kinds are zones of the contract.
func TestBordersAndCrestsAreZones(t *testing.T) {
	known := map[string]bool{}
	borders, crests := 0, 0
	for _, arch := range []string{"upper", "lower"} {
		for _, z := range bundle.Zones(arch) {
			if known[z] {
				continue
			}
			known[z] = true
			assert.False(t, Border(z) && Crest(z), z)
			if Border(z) {
				borders++
			}
			if Crest(z) {
				crests++
			}
		}
	}
	assert.Equal(t, 11, borders)
	assert.Equal(t, 2, crests)
}
