package page

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"afterfit/internal/bundle"
	"afterfit/internal/habit"
	"afterfit/internal/wording"
)

// What the contract calls its columns and codes stands in the catalogue too, and alike, so
// that another language can say it.
func TestTheContractHasItsWords(t *testing.T) {
	fields, codes := 0, 0
	for _, table := range bundle.Tables {
		for _, c := range table.Columns {
			fields++
			said, _ := english.Named("field.*", table.Name+"."+c.Name)
			assert.Equal(t, c.Meaning, said, "field.%s.%s", table.Name, c.Name)
			for _, code := range c.Codes {
				if strings.ContainsAny(code, "0123456789") || strings.Contains(c.Name, "zone") {
					continue // bands of age stand as they are, zones have names of their own
				}
				codes++
				said, _ := english.Named("code.*", code)
				assert.Equal(t, spaced(code), said, "code.%s", code)
			}
		}
	}
	for _, k := range wording.English().Keys() {
		if at, ok := strings.CutPrefix(k, "field."); ok {
			table, column, _ := strings.Cut(at, ".")
			found, _ := bundle.Find(table)
			_, ok := found.Column(column)
			assert.True(t, ok, "the contract has no column for %s", k)
		}
	}
	assert.Greater(t, min(fields, codes), 50)
}

// No message waits for a habit, a cause or a pointer that is gone.
func TestWordsBelongToSomething(t *testing.T) {
	known := func(group, id string) bool {
		switch group {
		case "habit":
			_, ok := habit.Find(id)
			return ok
		case "clinician_habit":
			_, ok := habit.FindClinicianHabit(id)
			return ok
		case "cause", "left_out":
			_, ok := habit.Causes.Node(id)
			return ok
		case "cause_group":
			for _, g := range habit.Groups {
				if g.ID == id {
					return true
				}
			}
			return false
		case "pointer":
			arch, zone, _ := strings.Cut(id, "_")
			_, ok := habit.PointerFor(arch, zone)
			return ok
		case "pattern":
			_, ok := habit.PatternOf(id)
			return ok
		case "zone":
			return strings.Contains(strings.Join(append(bundle.Zones("upper"), bundle.Zones("lower")...), " "), id)
		}
		return true
	}
	for _, k := range wording.English().Keys() {
		parts := strings.Split(k, ".")
		assert.True(t, known(parts[0], parts[1]), "nothing is called %s", k)
	}
	said := map[string]bool{}
	for _, h := range habit.Hypotheses {
		said[h.Mechanism], said[h.Source] = true, true
	}
	for _, p := range append(habit.Pointers, habit.Pointer{}) {
		said[p.Source] = true
	}
	for _, k := range wording.English().Keys() {
		if strings.HasPrefix(k, "why.") || strings.HasPrefix(k, "source.") {
			assert.True(t, said[english.Say(k)], "no hypothesis says %s", k)
		}
	}
}
