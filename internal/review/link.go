package review

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"afterfit/internal/store"
	"afterfit/queries"
)

// The linked tables stand in the store and follow it load by load: what a load
// touched is taken out of them and linked again, by the same statements that build
// them whole. What is many is packed into
// whole numbers; readers see the views linked_dentures, linked_seen, linked_spots,
// linked_events and linked_firsts.

// linkStep is a statement whose rows go into a table of the store.
type linkStep struct{ query, table string }

// The steps of a link, in order, with what runs between them in linker.link.
var (
	linkPatients = linkStep{"link_patients", "linked_patients"}
	linkNames    = linkStep{"link_names", "linked_names"}
	linkKnown    = []linkStep{{"link_repeats", "linked_repeats"}, {"link_remakes", "linked_remakes"}}
	linkMade     = []linkStep{{"link_cases", "linked_cases"}, {"link_dentures", "linked_made"}}
	linkFates    = []linkStep{{"link_visits", "linked_visits"}, {"link_sore", "linked_sore"}}
	linkViews    = []string{"link_view", "link_seen_view", "link_spots_view", "link_events_view", "link_firsts_view"}
)

// olderTables are tables that older programs linked into.
var olderTables = []string{"linked_counted", "linked_coded", "linked_adjusted", "linked_once"}

// linkInputs are the tables that the steps read by case. Sore spots are found by their
// visits; single readings are known before cases are linked.
var linkInputs = []string{"cases", "dentures", "records", "readings", "trays", "visits", "remakes"}

// EnsureLinked brings the linked tables up to date with the loads, the settings and
// the statements. It costs in proportion to what was loaded or undone since the last
// time; other settings or statements build the tables anew. All of it is one
// transaction: whoever was stopped between a load and its link finds the tables as
// they were, and the next command catches up.
func EnsureLinked(ctx context.Context, st *store.Store, s Settings) error {
	_, err := catchUp(ctx, st, s)
	return err
}

// catchUp is EnsureLinked, and reports how many cases it linked: -1 for all.
func catchUp(ctx context.Context, st *store.Store, s Settings) (cases int, err error) {
	if err := s.Check(); err != nil {
		return 0, err
	}
	want, err := wantedLinks(ctx, st, s)
	if err != nil {
		return 0, err
	}
	have, err := st.Meta(ctx, linkKey)
	if err != nil || have == want.text() {
		return 0, err
	}
	memory, err := st.Memory(ctx)
	if err != nil {
		return 0, err
	}
	ordered, err := st.Unordered(ctx)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, ordered()) }()
	err = st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		l := &linker{c: c, s: s, portion: casesFor(memory)}
		if err := l.link(ctx, readLinks(have), want); err != nil {
			return err
		}
		cases = l.cases
		return st.SetMeta(ctx, c, linkKey, want.text())
	})
	return cases, err
}

// linker links inside one transaction; some says that only the cases of link_touched
// are linked, and cases how many there are.
type linker struct {
	c     *sql.Conn
	s     Settings
	some  bool
	cases int
	// How many cases make a portion, and whether this is one after the first.
	portion int
	later   bool
}

// link links what changed between two states, or everything where that is needed or
// costs less.
func (l *linker) link(ctx context.Context, have, want links) (err error) {
	if l.some, err = l.touched(ctx, have, want); err != nil {
		return err
	}
	steps := []func(context.Context) error{l.begin, l.names, l.inPortions(l.known), l.houses, l.gone, l.inPortions(l.dentures), l.end}
	for _, step := range steps {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return nil
}

// begin notes the settings and takes away what an earlier link left, or what it knew
// of the touched cases.
func (l *linker) begin(ctx context.Context) error {
	if l.some {
		return l.exec(ctx, "DELETE FROM linked_repeats WHERE case_id IN (SELECT case_id FROM link_touched)",
			"DELETE FROM linked_remakes WHERE case_id IN (SELECT case_id FROM link_touched)")
	}
	if _, err := l.c.ExecContext(ctx, queries.Text("link_settings"), l.s.linking()...); err != nil {
		return fmt.Errorf("link_settings: %w", err)
	}
	for _, table := range olderTables {
		if err := l.exec(ctx, "DROP TABLE IF EXISTS "+table); err != nil {
			return err
		}
	}
	return l.exec(ctx, "CREATE OR REPLACE TABLE linked_patients (patient_key VARCHAR, patient_no INTEGER)",
		"CREATE OR REPLACE TABLE linked_names (field VARCHAR, no INTEGER, name VARCHAR)")
}

// due makes the views of what is to be linked, of the cases from one to before another;
// "" is no limit.
func (l *linker) due(ctx context.Context, from, to string) error {
	fill := struct {
		Table    queries.Name
		Some     bool
		From, To string
	}{Some: l.some}
	if from != "" {
		fill.From = store.Quote(from)
	}
	if to != "" {
		fill.To = store.Quote(to)
	}
	for _, table := range linkInputs {
		fill.Table = queries.NameOf(table)
		if err := l.exec(ctx, queries.Fill("link_due", fill)); err != nil {
			return fmt.Errorf("link_due %s: %w", table, err)
		}
	}
	return nil
}

// names numbers patients and names.
func (l *linker) names(ctx context.Context) error {
	if err := l.due(ctx, "", ""); err != nil {
		return err
	}
	if err := l.base(ctx); err != nil {
		return err
	}
	for _, s := range []linkStep{linkPatients, linkNames} {
		if err := l.add(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

// known keeps what dentures need to know of other rows than their own: single readings,
// and which case remakes which.
func (l *linker) known(ctx context.Context) error { return l.put(ctx, linkKnown...) }

// houses works out which sites take repeats. Where that changed, all cases of the site
// are linked again.
func (l *linker) houses(ctx context.Context) error {
	if err := l.run(ctx, "link_houses"); err != nil {
		return err
	}
	l.cases = -1
	if l.some {
		if err := l.run(ctx, "link_touched_houses"); err != nil {
			return err
		}
		if err := l.c.QueryRowContext(ctx, "SELECT count(DISTINCT case_id) FROM link_touched").Scan(&l.cases); err != nil {
			return err
		}
	}
	return l.exec(ctx, "CREATE OR REPLACE TABLE linked_houses AS FROM link_houses")
}

// gone takes the dentures of touched cases out of the linked tables.
func (l *linker) gone(ctx context.Context) error {
	if !l.some {
		return nil
	}
	if err := l.run(ctx, "link_gone"); err != nil {
		return err
	}
	return l.exec(ctx, "DELETE FROM linked_cases WHERE case_no IN (SELECT no FROM link_gone)",
		"DELETE FROM linked_made WHERE denture_no IN (SELECT no FROM link_gone)",
		"DELETE FROM linked_visits WHERE seen >> 32 IN (SELECT no FROM link_gone)",
		"DELETE FROM linked_sore WHERE spot >> 32 IN (SELECT no FROM link_gone)")
}

// dentures links what is to be linked, and what happened to it.
func (l *linker) dentures(ctx context.Context) error {
	if err := l.base(ctx); err != nil {
		return err
	}
	if err := l.put(ctx, linkMade...); err != nil {
		return err
	}
	if err := l.exec(ctx, queries.Fill("link_seen", linkFill)); err != nil {
		return fmt.Errorf("link_seen: %w", err)
	}
	return l.put(ctx, linkFates...)
}

// end makes the views that are read, and leaves nothing else behind.
func (l *linker) end(ctx context.Context) error {
	for _, name := range linkViews {
		if err := l.exec(ctx, queries.Fill(name, linkFill)); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	tidy := []string{"DELETE FROM main.unlinked"}
	for _, table := range linkInputs {
		tidy = append(tidy, "DROP VIEW temp.due_"+table)
	}
	for _, table := range []string{"link_touched", "link_gone", "link_base", "link_houses", "link_seen"} {
		tidy = append(tidy, "DROP TABLE IF EXISTS temp."+table)
	}
	return l.exec(ctx, tidy...)
}

// base notes from where on new numbers start.
func (l *linker) base(ctx context.Context) error {
	if l.some || l.later {
		return l.run(ctx, "link_base")
	}
	return l.exec(ctx, "CREATE OR REPLACE TEMP TABLE link_base AS SELECT 0 AS case_no, 0 AS patient_tens")
}

// put puts the rows of each step into its table, which it makes where everything is
// linked.
func (l *linker) put(ctx context.Context, steps ...linkStep) error {
	for _, s := range steps {
		if l.some || l.later {
			if err := l.add(ctx, s); err != nil {
				return err
			}
		} else if err := l.exec(ctx, "CREATE OR REPLACE TABLE "+s.table+" AS\n"+queries.Fill(s.query, linkFill)); err != nil {
			return fmt.Errorf("%s: %w", s.query, err)
		}
	}
	return nil
}

// add adds the rows of a step to its table. After the first portion it counts the table:
// rows of an INSERT that follows an empty one have been lost without an error (DuckDB 1.5).
func (l *linker) add(ctx context.Context, s linkStep) error {
	insert := "INSERT INTO " + s.table + "\n" + queries.Fill(s.query, linkFill)
	if !l.later {
		if err := l.exec(ctx, insert); err != nil {
			return fmt.Errorf("%s: %w", s.query, err)
		}
		return nil
	}
	had, err := l.count(ctx, s.table)
	if err != nil {
		return err
	}
	done, err := l.c.ExecContext(ctx, insert)
	if err != nil {
		return fmt.Errorf("%s: %w", s.query, err)
	}
	added, err := done.RowsAffected()
	if err != nil {
		return err
	}
	has, err := l.count(ctx, s.table)
	if err == nil && has != had+added {
		err = fmt.Errorf("%s: the database has %d rows where %d and %d more should be; nothing was linked", s.table, has, had, added)
	}
	return err
}

func (l *linker) count(ctx context.Context, table string) (rows int64, err error) {
	err = l.c.QueryRowContext(ctx, "SELECT count(*) FROM "+table).Scan(&rows)
	return rows, err
}

// run runs a statement by its name.
func (l *linker) run(ctx context.Context, name string) error {
	if err := l.exec(ctx, queries.Text(name)); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

func (l *linker) exec(ctx context.Context, statements ...string) error {
	for _, q := range statements {
		if _, err := l.c.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	return nil
}

// linking are the settings that the linked tables depend on, in the order of
// link_settings.
func (s Settings) linking() []any {
	return []any{s.AdjustmentDays, s.SoreDays, s.LateDeliveryDays, s.FreewayLowMM, s.FreewayHighMM, s.ClearanceLowMM,
		s.ClearanceHighMM, s.ClearanceUnevenMM, s.AddsUpMM, s.PalateBulkMM, s.DisplayFarMM, s.RepeatsApartMM}
}
