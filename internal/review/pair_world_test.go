//go:build coverage

package review

import (
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"afterfit/internal/bundle"
	"afterfit/internal/store"
)

// planted are the true rate ratios of a world. All at 1 is a world without effects.
type planted struct {
	freeway map[string]float64 // of a low freeway space, by outcome
	remount float64            // of no remount, on adjustment visits
	centric float64            // of a single centric record, on remakes
}

// world is an invented service of 3 sites and 15 clinicians, written as the files of a
// bundle. Clinicians differ in their rate of trouble and, going with it, in every
// habit; the ridge class and the prior denture raise trouble and those habits that the
// causal diagram lets them raise; a patient's dentures share a frailty, so that counts
// are negative binomial with twice the variance of a Poisson law or more.
//
// What is planted runs down a chain: space under the tray makes a thick palate, that
// takes the freeway space, and a low freeway space makes trouble.
type world struct {
	rng    *rand.Rand
	effect planted
	files  map[string]*strings.Builder
	visits int
	events map[string]int // what was drawn, by outcome
}

func (w *world) row(table string, fields ...any) {
	text := make([]string, len(fields))
	for i, f := range fields {
		text[i] = fmt.Sprint(f)
	}
	w.files[table].WriteString("\n" + strings.Join(text, ","))
}

var worldHeaders = map[string]string{
	"cases":      "case_id,patient_key,site,clinician,lab,records_on,age_band,sex,ridge_class,prior_denture,course,operator,observed_to_day,observed_end",
	"dentures":   "case_id,arch,delivered_day,remount",
	"records":    "case_id,vdr_mm,vdo_mm,vertical_basis,rest_denture_in,lip_mm,display_target_mm,centric_method,centric_takes",
	"readings":   "case_id,measure,take,value_mm",
	"trays":      "case_id,arch,sized_by,clearance_min_mm,clearance_max_mm,palate_mm,seating,touches,discomfort,tries,technique",
	"visits":     "visit_id,case_id,day,arch,reason,adjusted,minutes,complaints",
	"sore_spots": "visit_id,arch,zone,grade",
	"remakes":    "case_id,arch,day,scope",
}

func newWorld(seed uint64, cases int, effect planted) *world {
	// Worlds are to be independent: neighbouring seeds of a PCG start near each other on
	// one and the same sequence.
	var key [32]byte
	binary.LittleEndian.PutUint64(key[:], seed)
	w := &world{rng: rand.New(rand.NewChaCha8(key)), effect: effect, files: map[string]*strings.Builder{}, events: map[string]int{}}
	for name, header := range worldHeaders {
		w.files[name] = &strings.Builder{}
		w.files[name].WriteString(header)
	}
	hands := make([]hand, 15)
	for i := range hands {
		hands[i] = w.hand(i)
	}
	for i := range cases {
		w.oneCase(i, hands[w.rng.IntN(len(hands))])
	}
	return w
}

// hand is a clinician: the logarithm of the own rate, and how far each habit's log odds
// lie from the usual.
type hand struct {
	code, site string
	operator   string
	rate       float64
	leaning    []float64
}

const worldHabits = 24

func (w *world) hand(i int) hand {
	u := w.rng.NormFloat64()
	h := hand{code: fmt.Sprintf("C%02d", i), site: fmt.Sprintf("S%d", i%3), operator: []string{"qualified", "qualified", "student"}[i/5], rate: 0.25 * u}
	for range worldHabits {
		h.leaning = append(h.leaning, 0.8*(0.6*u+0.8*w.rng.NormFloat64()))
	}
	return h
}

// made is what one case leads to expect and what was done.
type made struct {
	id                string
	hand              hand
	ridge             float64 // log odds and log rate that the ridge class adds, before scaling
	prior             float64
	frailty           float64
	delivered, until  int
	low, noRemount    bool
	oneTake, oldBasis bool
}

// did draws a habit of the case's clinician: about share of cases, more with its terms.
func (w *world) did(m *made, no int, share float64, terms ...float64) bool {
	odds := math.Log(share/(1-share)) + m.hand.leaning[no]
	for _, t := range terms {
		odds += t
	}
	return w.rng.Float64() < 1/(1+math.Exp(-odds))
}

func pick[T any](yes bool, a, b T) T {
	if yes {
		return a
	}
	return b
}

// oneCase writes one case with its aftercare.
func (w *world) oneCase(i int, h hand) {
	r := w.rng
	ridge, prior := 1+r.IntN(4), []string{"none", "sound", "unsound"}[r.IntN(3)]
	m := &made{id: fmt.Sprintf("K%05d", i), hand: h, ridge: 0.3 * float64(ridge-1), prior: pick(prior == "unsound", 0.3, 0),
		frailty: distuv.Gamma{Alpha: 1.5, Beta: 1.5, Src: r}.Rand(), delivered: 20 + r.IntN(60)}
	m.until = m.delivered + pick(r.Float64() < 0.8, 365+r.IntN(200), 20+r.IntN(345))
	// One patient in twenty has an earlier case as well, the same lines in the files.
	patient := pick(i > 0 && r.Float64() < 0.05, i-1, i)
	w.row("cases", m.id, fmt.Sprintf("P%05d", patient), h.site, h.code, fmt.Sprintf("L%d", 1+r.IntN(3)), fmt.Sprintf("%d-%02d", 2023+r.IntN(3), 1+r.IntN(12)),
		[]string{"50-59", "60-69", "70-79"}[r.IntN(3)], []string{"female", "male"}[r.IntN(2)], ridge, prior, pick(prior == "none", "first", "replacement"), h.operator, m.until, "export")
	arches := pick(r.Float64() < 0.85, []string{"upper", "lower"}, []string{pick(r.IntN(2) == 0, "upper", "lower")})
	m.noRemount, m.oneTake = w.did(m, 0, 0.4, m.ridge), w.did(m, 1, 0.4, m.ridge)
	thick := w.trays(m, arches)
	w.records(m, thick)
	for _, arch := range arches {
		w.row("dentures", m.id, arch, m.delivered, pick(m.noRemount, "no", "yes"))
		w.aftercare(m, arch)
	}
}

// trays writes the trays and says whether the palate came out thick.
func (w *world) trays(m *made, arches []string) bool {
	wide := w.did(m, 2, 0.3, m.ridge, m.prior)
	none := w.did(m, 11, 0.1)
	share := pick(wide, 0.7, 0.15)
	if none { // what is not written down cannot be adjusted for, so it must not matter
		share = 0.3
	}
	thick := w.rng.Float64() < share
	touch := pick(w.did(m, 3, 0.15, m.ridge), "ridge", "none")
	narrow, uneven := w.did(m, 4, 0.2, m.ridge), w.did(m, 5, 0.2, m.ridge)
	bySize, single, first := w.did(m, 6, 0.4, m.prior), w.did(m, 7, 0.4, m.ridge), w.did(m, 8, 0.3, m.ridge)
	half, hurt := w.did(m, 9, 0.15, m.ridge), w.did(m, 10, 0.2, m.ridge)
	least := pick(narrow, 0.5, 1.0)
	// An uneven tray that is nowhere tight has more than 2 mm somewhere: it would be wide.
	most := pick(wide, 3.0, least+pick(uneven && narrow, 1.2, 0.5))
	for _, arch := range arches {
		palate, min, max := any(""), any(least), any(most)
		if arch == "upper" {
			palate = pick(thick, 5.0, 3.0)
		}
		if none {
			min, max = "", ""
		}
		w.row("trays", m.id, arch, pick(bySize, "eye", "measured"), min, max, palate, pick(half, "partial", "full"), touch, pick(hurt, "yes", "no"),
			pick(first, 1, 2), pick(single, "single_phase", "two_viscosity"))
	}
	return thick
}

// records writes the case's records. A thick palate takes the freeway space.
func (w *world) records(m *made, thick bool) {
	m.low = w.rng.Float64() < pick(thick, 0.55, 0.12)
	m.oldBasis = w.did(m, 12, 0.3, m.prior)
	denturesIn, swallow := w.did(m, 13, 0.3, m.ridge, m.prior), w.did(m, 14, 0.2, m.ridge)
	freeway := pick(m.low, 0.5, 2.0+0.5*float64(w.rng.IntN(4)))
	vdo := 58 + 0.5*float64(w.rng.IntN(20))
	far, noLip := w.did(m, 15, 0.3, m.prior), w.did(m, 16, 0.2)
	w.row("records", m.id, vdo+freeway, vdo, pick(m.oldBasis, "existing_denture", "rest_minus_freeway"), pick(denturesIn, "yes", "no"), pick(noLip, "", "17"),
		pick(far, 6.5, 3.5), pick(swallow, "swallow", "guided"), pick(m.oneTake, 1, 2))
	takes := pick(w.did(m, 17, 0.4, m.ridge), 1, 2)
	for take := range takes {
		w.row("readings", m.id, "vdr", take+1, vdo+freeway)
	}
}

// aftercare draws what befell one denture.
func (w *world) aftercare(m *made, arch string) {
	r, base := w.rng, m.ridge+m.prior+m.hand.rate
	effect := func(outcome string) float64 {
		if e, ok := w.effect.freeway[outcome]; ok && m.low {
			return e
		}
		return 1
	}
	end := m.until - m.delivered
	once := func(outcome string, share float64, days int, times float64) (int, bool) {
		day := 1 + r.IntN(days)
		return day, r.Float64() < 1-math.Exp(-share*times*effect(outcome)*math.Exp(base)) && day <= end
	}
	remade := pick(m.oneTake && w.effect.centric > 0, w.effect.centric, 1)
	if day, ok := once(Remake, 0.02, 365, remade); ok {
		w.row("remakes", m.id, arch, m.delivered+day, "remake")
		w.events[Remake]++
		end = day
	}
	if day, ok := once("reline", 0.02, 365, 1); ok {
		w.row("remakes", m.id, arch, m.delivered+day, "reline")
	}
	visit := func(day int, adjusted, complaint string) string {
		w.visits++
		id := fmt.Sprintf("V%06d", w.visits)
		w.row("visits", id, m.id, m.delivered+day, arch, "complaint", adjusted, pick(adjusted == "yes", "15", ""), complaint)
		return id
	}
	many := func(mean float64, days int, each func(day int)) {
		n := int(distuv.Poisson{Lambda: mean * m.frailty * math.Exp(base), Src: r}.Rand())
		for range n {
			if u := r.Float64(); int(u*u*float64(days)) <= end {
				each(int(u * u * float64(days)))
			}
		}
	}
	times := pick(m.noRemount && w.effect.remount > 0, w.effect.remount, 1)
	many(0.7*times*effect(Adjustments), 90, func(day int) { visit(day, "yes", "none"); w.events[Adjustments]++ })
	many(0.5*effect(SoreSpots), 30, func(day int) {
		w.row("sore_spots", visit(day, "no", "sore"), arch, "ridge_crest_back", 1+r.IntN(2))
	})
	for _, c := range [][2]string{{Vertical, "too_tall"}, {Display, "shows_too_much"}} {
		if day, ok := once(c[0], 0.03, 180, 1); ok {
			visit(day, "no", c[1])
		}
	}
}

// through loads the world as a bundle of files, as a user would.
func (w *world) through(t testing.TB) *store.Store {
	t.Helper()
	dir := t.TempDir()
	for name, b := range w.files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name+".csv"), []byte(b.String()+"\n"), 0o600))
	}
	note := "basis = \"limited_data_set\"\ninvented = true\n[[cleared]]\ntable = \"cases\"\ncolumn = \"patient_key\"\nkind = \"chart_number\"\nreason = \"running numbers of invented patients\"\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bundle.toml"), []byte(note), 0o600))
	return loaded(t, 1, dir)
}

// worldStore is an empty store that worlds are put into one after the other.
func worldStore(t testing.TB) *store.Store {
	t.Helper()
	return loaded(t, 1)
}

// put lays a world's rows straight into the tables that a load fills, and links them.
func (w *world) put(t testing.TB, st *store.Store) *asker {
	ctx := context.Background()
	dir := t.TempDir()
	err := st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		for _, table := range bundle.Tables {
			if _, err := c.ExecContext(ctx, "DELETE FROM "+table.Name); err != nil {
				return err
			}
			path := filepath.Join(dir, table.Name+".csv")
			if err := os.WriteFile(path, []byte(w.files[table.Name].String()+"\n"), 0o600); err != nil {
				return err
			}
			if _, err := c.ExecContext(ctx, "INSERT INTO "+table.Name+" BY NAME SELECT *, 1 AS load_id FROM read_csv('"+path+"', header = true, all_varchar = true)"); err != nil {
				return fmt.Errorf("%s: %w", table.Name, err)
			}
		}
		return link(ctx, c, DefaultSettings())
	})
	require.NoError(t, err)
	c, err := st.DB().Conn(ctx)
	require.NoError(t, err)
	return &asker{c: c, db: st.DB(), st: st, s: DefaultSettings()}
}
