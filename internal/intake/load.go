package intake

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"afterfit/internal/bundle"
	"afterfit/internal/mapping"
	"afterfit/internal/privacy"
	"afterfit/internal/store"
)

// DefaultSetAsideLimit is the largest share of a table's rows that may be set
// aside before the whole export is refused. House rule, no source: one row in
// twenty is about as much as a reader can look through.
const DefaultSetAsideLimit = 0.05

// LoadOptions says how strict a load is. The zero value takes the defaults.
type LoadOptions struct {
	SetAsideLimit float64   // share in (0,1]; 0 = DefaultSetAsideLimit
	Strict        bool      // refuse the export when any row would be set aside
	Mapping       string    // path of a mapping file; "" = the export is a case bundle
	SetAside      string    // where the rows set aside are written to correct them: a new folder, or a workbook if it ends in .xlsx; "" = nowhere
	LoadedAt      time.Time // for the ledger; never enters a page. Zero = not noted
	TempDir       string    // where a private folder for rewritten copies goes; "" = the system's
	Progress      Progress  // may be nil

	judgeAll bool // the rules judge every row, as if none were sound for certain: for tests
}

// Progress is told how far a stage has come. Stages "reading" and "turning" count
// sheets or tables, because nobody knows the rows of an export before it is read;
// all others count rows.
type Progress func(stage string, done, total int64)

func (p Progress) at(stage string, done, total int64) {
	if p != nil {
		p(stage, done, total)
	}
}

// LoadResult is what a load did.
type LoadResult struct {
	LoadID         int64     `json:"load_id"`
	Unchanged      bool      `json:"unchanged"` // the store already had all of it; LoadID is the load that brought it
	Note           Note      `json:"note"`
	Balance        []Balance `json:"balance"`
	CasesChanged   int64     `json:"cases_superseded"`
	CasesUnchanged int64     `json:"cases_unchanged"`
	CasesWithdrawn int64     `json:"cases_withdrawn"`
	CasesHeld      int64     `json:"cases_held"`  // as in the latest export, and corrected since: the correction stays
	CasesSince     int64     `json:"cases_since"` // of an export loaded before: its cases that later loads replaced or withdrew
	Outcomes       []Outcome `json:"outcomes"`    // by file and table, in the order of the contract
	Corrected      int64     `json:"corrected"`   // rows set aside by an earlier load that came back corrected
	StillAside     int64     `json:"still_aside"` // of that load, those that did not
	SetAside       []Fault   `json:"set_aside"`   // the first of them
	MoreSetAside   int64     `json:"more_set_aside"`
	SetAsideIn     string    `json:"set_aside_in,omitempty"` // where they were written, "" if nowhere
	Flags          int64     `json:"flags"`

	// What a mapping made of the export; both empty for a case bundle.
	Sources []mapping.Balance     `json:"sources,omitempty"`
	Unknown []mapping.UnknownCode `json:"unknown_codes,omitempty"`
	Privacy []privacy.Finding     `json:"privacy"` // remarks of the privacy checks that did not stop the load
	Cleared []privacy.Clearance   `json:"cleared"` // findings that the note clears
	Risk    privacy.Risk          `json:"risk"`    // of small cells, for the cases of this export
}

// shownFaults is how many rows set aside a result lists; the store has them all.
const shownFaults = 20

// errNothingNew ends a load that would change nothing.
var errNothingNew = errors.New("nothing new")

// loader is one load under way.
type loader struct {
	opt    LoadOptions
	source string
	sha    string
	stages []*stage
	res    *LoadResult
	aside  *asideOut

	st      *store.Store
	endBulk func() error
	scratch string
	words   []seenFile // what the export and the mapping say of it
	from    Source
	seen    int64  // the latest load of the same content, 0 if there is none
	direct  bool   // the store has no case yet: sound rows go straight into it
	sieve   *sieve // nil where every row is judged

	contentOf string // SQL after FROM of what the export says of each case

	mappingSHA string
	raw        *rawScreen // what the export's own columns hold of people; nil for a case bundle
}

// Load brings the export at path into the store: all of it in one transaction, or
// nothing. A case that the export has replaces the same case of earlier loads;
// loading the same content again changes nothing. An error about the export wraps
// ErrBadData. A result beside an error means that the load is stored and only its
// checkpoint failed.
func Load(ctx context.Context, st *store.Store, path string, opt LoadOptions) (res *LoadResult, err error) {
	if _, err := os.Lstat(opt.SetAside); opt.SetAside != "" && err == nil {
		return nil, Fault{File: opt.SetAside, Found: "something where the rows set aside would go", Remedy: "name a path that does not exist yet"}
	}
	scratch, done, err := makeScratch(opt.TempDir)
	if err != nil {
		return nil, err
	}
	defer done()
	defer func() {
		if res == nil {
			err = noRoom(err, scratch)
		}
	}()
	words := seenWords(path, opt.Mapping)
	src, err := openWith(ctx, path, opt.Mapping, scratch, opt.Progress)
	if err != nil {
		return nil, err
	}
	defer func() { _ = closeSource(src) }() // only read from
	l := &loader{opt: opt, source: baseName(path), scratch: scratch, words: words, from: src, endBulk: func() error { return nil }, res: &LoadResult{Note: src.Note(), SetAside: []Fault{}}}
	l.res.Sources, l.res.Unknown = account(src)
	if m, ok := src.(*mapped); ok {
		l.raw = m.screen
	}
	if l.mappingSHA, err = mappingSum(opt.Mapping); err != nil {
		if changed := l.unchanged(); changed != nil {
			return nil, changed
		}
		return nil, fmt.Errorf("the mapping could not be read again: %w", err)
	}
	if err := l.open(ctx, src, path, scratch); err != nil {
		return nil, err
	}
	l.st = st
	defer func() { err = errors.Join(err, l.endBulk()) }()
	err = st.Tx(ctx, l.run)
	if err != nil && !errors.Is(err, errNothingNew) {
		return nil, l.giveUp(err)
	}
	if asideErr := l.aside.settle(); asideErr != nil {
		return l.res, fmt.Errorf("load %d is stored, but its rows set aside could not be written to %s: %w", l.res.LoadID, l.opt.SetAside, asideErr)
	}
	if errors.Is(err, errNothingNew) {
		return l.res, nil
	}
	if err := st.Checkpoint(context.WithoutCancel(ctx)); err != nil {
		return l.res, fmt.Errorf("%w: load %d is stored, but its log could not be folded into the file (%w): make room on the disk and open the store again", store.ErrUse, l.res.LoadID, err)
	}
	return l.res, nil
}

func baseName(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		return filepath.Base(abs)
	}
	return filepath.Base(path)
}

// progress says that a stage is done with the first tables: how many of their rows,
// out of all.
func (l *loader) progress(stage string, tables int) {
	done, total := int64(0), int64(0)
	for i, g := range l.stages {
		if g.sheet == nil {
			continue
		}
		total += g.sheet.Records
		if i < tables {
			done += g.sheet.Records
		}
	}
	l.opt.Progress.at(stage, done, total)
}

// open looks every table through and refuses what is not as the contract says,
// before the store is touched.
func (l *loader) open(ctx context.Context, src Source, path, scratch string) error {
	sum := sha256.New()
	n := src.Note()
	fmt.Fprintf(sum, "{Name:%s Basis:%s Invented:%t Complete:%t Adds:%t}\n", n.Name, n.Basis, n.Invented, n.Complete, n.Adds)
	for _, k := range n.Cleared {
		fmt.Fprintf(sum, "%q\n", k)
	}
	read, done := readAhead(ctx, src, scratch)
	defer done()
	for i, t := range bundle.Tables {
		l.opt.Progress.at("reading", int64(i), int64(len(bundle.Tables)))
		g := &stage{t: t, adds: src.Note().Adds}
		l.stages = append(l.stages, g)
		if !contains(src.Tables(), t.Name) {
			if t.Required && !g.adds {
				return Fault{Table: t.Name, File: path, Found: "no table " + t.Name, Remedy: "add " + t.Name + ".csv (" + t.Meaning + "); without rows it still has its header line"}
			}
			continue
		}
		var err error
		if g.sheet, err = read(t.Name); err != nil {
			return err
		}
		if err := checkHeader(t, g.sheet); err != nil {
			return err
		}
		if t.Parent == "" && g.sheet.Records == 0 && !g.adds {
			return Fault{Table: t.Name, File: g.sheet.File, Found: "a table without rows", Remedy: "export the cases again; there is nothing to load without them"}
		}
		fmt.Fprintf(sum, "%s %s\n", t.Name, g.sheet.SHA256)
	}
	l.sha = hex.EncodeToString(sum.Sum(nil))
	return nil
}

// run is the body of the load's transaction.
func (l *loader) run(ctx context.Context, c *sql.Conn) error {
	if err := l.meet(ctx, c); err != nil {
		return err
	}
	if err := l.stage(ctx, c); err != nil {
		return err
	}
	if err := l.screen(ctx, c); err != nil {
		return err
	}
	if err := l.number(ctx, c); err != nil {
		return err
	}
	if err := l.check(ctx, c); err != nil {
		return err
	}
	if err := l.limit(ctx, c); err != nil {
		return l.refused(ctx, c, err)
	}
	if err := l.writeAside(ctx, c); err != nil {
		return err
	}
	if l.seen > 0 && !l.res.Note.Adds {
		return l.before(ctx, c, l.seen)
	}
	if err := l.keep(ctx, c); err != nil {
		return err
	}
	if l.seen > 0 && l.nothingNew() {
		l.res.Unchanged, l.res.LoadID = true, l.seen
		return errNothingNew
	}
	return l.clear(ctx, c)
}

// clear drops the temporary tables; some hold the cells of people's rows.
func (l *loader) clear(ctx context.Context, c *sql.Conn) error {
	var names []string
	if !l.direct {
		names = append(names, "gone", "same", "gained", "lost", "held", "content")
	}
	if l.someAside() {
		names = append(names, "shifts", "words")
	}
	for _, g := range l.stages {
		if err := g.drop(ctx, c); err != nil {
			return err
		}
	}
	for _, name := range names {
		if _, err := exec(ctx, c, "DROP TABLE IF EXISTS temp."+name); err != nil {
			return err
		}
	}
	return nil
}

// someAside reports that the load sets rows aside.
func (l *loader) someAside() bool {
	return slices.ContainsFunc(l.stages, func(g *stage) bool { return g.asideNoted || g.sheet != nil && len(g.sheet.Rejected) > 0 })
}

// meet finds out what of the export the store may have, and so how its rows go in:
// into an empty store straight, beside the rows of other loads by way of stages.
func (l *loader) meet(ctx context.Context, c *sql.Conn) error {
	var cases bool
	q := "SELECT coalesce(max(load_id) FILTER (content_sha256 = ? AND " + store.Standing + "), 0), EXISTS (FROM main.cases) FROM main.loads"
	if err := c.QueryRowContext(ctx, q, l.sha).Scan(&l.seen, &cases); err != nil {
		return err
	}
	if l.res.Note.Adds || l.opt.judgeAll {
		return nil
	}
	l.direct = !cases && l.seen == 0
	rows := int64(0)
	for _, g := range l.stages {
		if g.direct = l.direct; g.sheet != nil {
			rows += g.sheet.Records
		}
	}
	if l.direct {
		var err error
		if l.endBulk, err = l.st.Bulk(ctx, 1+int(rows/rowsPerThread)); err != nil {
			return err
		}
	}
	return l.siftAll(ctx, c)
}

// rowsPerThread is how many rows of an export must be there for each thread of the database
// that writes them. Measured: of 1.6 million rows the threads but one wait most of the time,
// and waiting costs as much as working.
const rowsPerThread = 3_000_000

// before ends the load of an export that the store had before: it is older than
// whatever came since, so none of it replaces anything.
func (l *loader) before(ctx context.Context, c *sql.Conn, seen int64) error {
	l.res.Unchanged, l.res.LoadID = true, seen
	q := fmt.Sprintf("SELECT count(DISTINCT case_id) FROM %s.cases WHERE load_id = ?", store.History)
	if err := c.QueryRowContext(ctx, q, seen).Scan(&l.res.CasesSince); err != nil {
		return err
	}
	return errNothingNew
}

// number gives the load its number.
func (l *loader) number(ctx context.Context, c *sql.Conn) error {
	if err := c.QueryRowContext(ctx, "SELECT coalesce(max(load_id), 0) + 1 FROM main.loads").Scan(&l.res.LoadID); err != nil {
		return err
	}
	var at any
	if !l.opt.LoadedAt.IsZero() {
		at = l.opt.LoadedAt.UTC()
	}
	n := l.res.Note
	if _, err := exec(ctx, c, "INSERT INTO main.loads VALUES (?, ?, ?, ?, ?, ?, ?)", l.res.LoadID, l.source, l.sha, n.Basis, n.Invented, n.Complete, at); err != nil {
		return err
	}
	for _, k := range l.res.Cleared {
		if _, err := exec(ctx, c, "INSERT INTO main.cleared VALUES (?, ?, ?, ?, ?)", l.res.LoadID, k.Table, k.Column, string(k.Kind), k.Reason); err != nil {
			return err
		}
	}
	return nil
}

// stage reads every table into temporary ones, parents first, and types the cells.
func (l *loader) stage(ctx context.Context, c *sql.Conn) error {
	judged := slices.ContainsFunc(l.stages, func(g *stage) bool { return !g.empty() })
	for i, g := range l.stages {
		l.progress("typing", i)
		if g.empty() {
			if judged { // others may name it
				if err := g.nothing(ctx, c); err != nil {
					return err
				}
			}
			continue
		}
		if err := g.read(ctx, c); err != nil {
			return err
		}
		if err := g.judge(ctx, c); err != nil {
			return err
		}
	}
	return l.unchanged()
}

// unchanged holds that the whole export is still the one that was looked through: a file
// that changed behind its reading makes a mixture of two exports.
func (l *loader) unchanged() error {
	for _, g := range l.stages {
		if err := g.sheet.unchanged(); err != nil {
			return err
		}
	}
	for _, w := range l.words {
		if err := w.unchanged(); err != nil {
			return err
		}
	}
	return l.from.Unchanged()
}

// check gives every staged row its verdict, parents first.
func (l *loader) check(ctx context.Context, c *sql.Conn) error {
	for i, g := range l.stages {
		l.progress("checking", i)
		if !g.allSound() {
			for _, step := range []func(context.Context, *sql.Conn) error{g.doubles, g.orphans, g.taken(l.res.Note.Complete)} {
				if err := step(ctx, c); err != nil {
					return err
				}
			}
		}
		if err := g.noteAside(ctx, c, l.res.LoadID); err != nil {
			return err
		}
	}
	var err error
	if l.someAside() {
		l.res.SetAside, l.res.MoreSetAside, err = firstAside(ctx, c, l.res.LoadID, shownFaults)
	}
	if err != nil || l.direct {
		return err
	}
	return l.risk(ctx, c, stagedCases(l.stages))
}
