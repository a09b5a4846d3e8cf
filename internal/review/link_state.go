package review

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"

	"afterfit/internal/store"
	"afterfit/queries"
)

// linkKey is the name under which the store notes what its linked tables stand on.
const linkKey = "linked_from"

// links is what linked tables stand on: the statements and settings that made them,
// by their SHA-256, and the loads.
type links struct {
	Rules string       `json:"rules"`
	Loads []linkedLoad `json:"loads"`
}

// linkedLoad is a load, told apart by number and content.
type linkedLoad struct {
	ID      int64  `json:"load"`
	Content string `json:"content"`
}

func (l links) text() string {
	b, err := json.Marshal(l)
	if err != nil {
		panic(err) // strings and numbers can always be written
	}
	return string(b)
}

// readLinks reads what the store noted; what cannot be read stands for nothing.
func readLinks(text string) links {
	var l links
	if json.Unmarshal([]byte(text), &l) != nil {
		return links{}
	}
	return l
}

// wantedLinks is what the linked tables have to stand on now.
func wantedLinks(ctx context.Context, st *store.Store, s Settings) (links, error) {
	sum := sha256.New()
	fmt.Fprintln(sum, s.linking()...)
	for _, name := range append([]string{"link_settings", "link_houses", "link_seen", linkPatients.query, linkNames.query}, linkViews...) {
		fmt.Fprintln(sum, queries.Fill(name, linkFill))
	}
	for _, step := range slices.Concat(linkKnown, linkMade, linkFates) {
		fmt.Fprintln(sum, queries.Fill(step.query, linkFill))
	}
	l := links{Rules: hex.EncodeToString(sum.Sum(nil)), Loads: []linkedLoad{}}
	loads, err := standingLoads(ctx, st.DB())
	for _, x := range loads {
		l.Loads = append(l.Loads, linkedLoad{x.id, x.content.String})
	}
	return l, err
}

// without gives the numbers of the loads of l that are not in other.
func (l links) without(other links) []int64 {
	var out []int64
	for _, x := range l.Loads {
		if !slices.Contains(other.Loads, x) {
			out = append(out, x.ID)
		}
	}
	return out
}

// mostRelinked is the part of all cases from which on building the linked tables anew
// costs less than taking rows out and putting them in. lastNumber is from when on
// numbers start again at the next link, so that they stay within 32 bits.
const mostRelinked, lastNumber = 0.3, 1_000_000_000

// touched makes link_touched, the cases whose rows differ between two states and those
// that the cases name, or named, as remade. It reports false where everything is to be
// linked: the rules are others, nobody noted what an undone load touched, it is a
// large part of all cases, or numbers run out.
func (l *linker) touched(ctx context.Context, have, want links) (bool, error) {
	if have.Rules != want.Rules {
		return false, nil
	}
	for _, gone := range have.without(want) {
		var noted bool
		if err := l.c.QueryRowContext(ctx, "SELECT count(*) > 0 FROM main.unlinked WHERE load_id = ? AND case_id IS NULL", gone).Scan(&noted); err != nil || !noted {
			return false, err
		}
	}
	cases := "SELECT case_id FROM main.unlinked WHERE case_id IS NOT NULL"
	if fresh := want.without(have); len(fresh) > 0 {
		cases += " UNION ALL " + store.CasesOf(fresh)
	}
	if err := l.exec(ctx, "CREATE OR REPLACE TEMP TABLE link_touched AS SELECT DISTINCT case_id FROM ("+cases+")"); err != nil {
		return false, err
	}
	if err := l.run(ctx, "link_touched_remakes"); err != nil {
		return false, err
	}
	var few bool
	err := l.c.QueryRowContext(ctx, `SELECT (SELECT count(DISTINCT case_id) FROM link_touched) < ? * (SELECT count(*) FROM cases)
	AND coalesce((SELECT max(case_no) FROM linked_cases), 0) < ? AND coalesce((SELECT max(patient_no) FROM linked_patients), 0) < ?`, mostRelinked, lastNumber, lastNumber).Scan(&few)
	return few, err
}
