package review

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPeersAreAllOthers holds the values and sums that are worked out once, less one's own, to
// those counted anew for every clinician, with values that many share and some too few to tell.
func TestPeersAreAllOthers(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 5))
	m := &material{own: map[string]map[string]Estimate{Remake: {}}, counts: map[string]map[string]habitCount{"h": {}}}
	for i := range 60 {
		code := fmt.Sprintf("C%02d", i)
		m.clinicians = append(m.clinicians, code)
		if i%7 != 0 {
			m.own[Remake][code] = Estimate{Value: Num(random.IntN(20)), TooFew: []string{"", "", "Too few"}[random.IntN(3)]}
		}
		if i%5 != 0 {
			m.counts["h"][code] = habitCount{with: int64(random.IntN(3)), without: int64(random.IntN(4))}
		}
	}
	m.sortValues()
	for _, code := range m.clinicians {
		values, shares, rest := []Num{}, []Num{}, habitCount{}
		for _, other := range m.clinicians {
			if e, ok := m.own[Remake][other]; ok && e.TooFew == "" && other != code {
				values = append(values, e.Value)
			}
			if n := m.counts["h"][other]; n.with+n.without > 0 && other != code {
				shares, rest = append(shares, n.share()), habitCount{with: rest.with + n.with, without: rest.without + n.without}
			}
		}
		slices.Sort(values)
		slices.Sort(shares)
		require.Greater(t, len(values), 20)
		assert.Equal(t, values, m.peers(Remake, code), code)
		if own := m.counts["h"][code]; own.with+own.without > 0 {
			assert.Equal(t, shares, without(m.shares["h"], own.share(), true), code)
			assert.Equal(t, rest, habitCount{with: m.sums["h"].with - own.with, without: m.sums["h"].without - own.without}, code)
		}
	}
	assert.Equal(t, []Num{}, without([]Num{4}, 4, true))
}
