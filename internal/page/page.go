// Package page turns findings into pages: the meeting pack, a clinician's private
// summary and the index of summaries. It lays out and words what it is given and
// computes nothing. Each page is one file that opens without a network; what it may
// run is pinned by hash.
package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"afterfit/internal/review"
	"afterfit/reports"
)

// Options is what a page needs beside its findings.
type Options struct {
	// HabitName gives a habit's title and what was done, as the end of a sentence that
	// begins with "Dentures", by its id; a habit without a title is shown by its id.
	// It may be nil.
	HabitName func(id string) (title, sentence string)
	// LabelClinicians names clinicians in a pack; the quality lead has to ask for it.
	LabelClinicians bool
}

func (o Options) words() words { return words{habitName: o.HabitName, labels: o.LabelClinicians} }

// Pack writes the meeting pack. The same findings give the same bytes.
func Pack(w io.Writer, f *review.Findings, opt Options) error {
	return render(w, packDoc(f, opt.words()))
}

// Summary writes one clinician's private page. The same summary gives the same bytes.
func Summary(w io.Writer, s *review.Summary, opt Options) error {
	return render(w, summaryDoc(s, opt.words()))
}

// IndexEntry is one line of the index of summaries.
type IndexEntry struct {
	Code     string // the clinician's code
	File     string // as SummaryFile names it
	Cases    int64
	Dentures int64
}

// SummaryIndex writes the quality lead's page that says whose summary is in which
// file, in the order given.
func SummaryIndex(w io.Writer, entries []IndexEntry, about About) error {
	return render(w, indexDoc(entries, about))
}

// SummaryFile names a clinician's file so that the name does not say who it is: the
// start of a SHA-256 of fingerprint and code. Whoever knows the codes and the
// fingerprint can find out, so the name hides from a glance and not from an attack.
func SummaryFile(code, fingerprint string) string {
	sum := sha256.Sum256([]byte("summary\x00" + fingerprint + "\x00" + code))
	return "summary-" + hex.EncodeToString(sum[:6]) + ".html"
}

// About is what every page says of its origin.
type About struct {
	Version, Fingerprint, Basis, AsOf string
	Invented                          bool
}

// doc is a page ready for the template.
type doc struct {
	Title, Heading, Kicker string
	About                  About
	Basis                  string
	Opening                []string // sentences
	Alert                  *alert
	Tiles                  []tile
	Findings               []string
	FindingsTitle          string
	Sections               []section
	Fold                   *hidden
	Cautions               []string
	Style                  template.CSS
	Scripts                []template.JS
	CSP                    string
}

type alert struct{ Text, Link string }

// tile is a headline figure on the opening screen.
type tile struct {
	Title, Figure, Unit, Interval, N string
	Spark                            template.HTML
}

type section struct {
	ID, Title, Lead string
	Notes           []string
	Figures         []figure
	Definitions     []definition
	Cards           []card
	Folds           []fold
	FoldsTitle      string
	Asks            []string    // questions to discuss
	Statements      []statement // the text of queries
	Closed          []figure    // shown on demand
	ClosedTitle     string
}

// fold is a finding to open, with all that stands behind it.
type fold struct {
	ID, Summary, Text string
	SVG               template.HTML // the part of the causal diagram that matters to it
	Facts             []definition
}

type definition struct{ Term, Text string }

// statement is the text of a query by its name.
type statement struct{ Name, Text string }

// card is a thing worth trying, or a strength.
type card struct {
	Title    string
	Texts    []string
	Cases    []string
	CaseHead string
	SVG      template.HTML
}

// figure is a sentence, a picture and a table of the same numbers.
type figure struct {
	ID, Title, Lead string
	Options         template.JS // of a chart, "" for none
	Height          int
	Alt             string
	SVG             template.HTML
	Wide            bool         // the SVG keeps its size on a small screen and scrolls
	Panels          []panel      // small pictures side by side
	Rank            []string     // the leading places of a map, in words
	RankTitle       string       // over them; "" for those with most
	Beside          []definition // figures beside the SVG
	Caption         string
	Table           *table
}

type table struct {
	Caption string
	Head    []column
	Rows    [][]string
	Open    bool
}

// broadColumns is how many columns paper holds at the usual size.
const broadColumns = 10

// Class marks a table whose last column is the method: on paper that column goes,
// since the section on how the pack was worked out lists every method once. A table
// of many columns is marked to be printed smaller.
func (t table) Class() string {
	n := len(t.Head)
	switch {
	case n > 0 && t.Head[n-1].Title == "Method":
		return "methods"
	case n > broadColumns:
		return "broad"
	}
	return ""
}

// Caution is what to say under a table that marks an interval, "" under others.
func (t table) Caution() string {
	for _, row := range t.Rows {
		for _, cell := range row {
			if strings.HasSuffix(cell, cautionMark) {
				return cautionText
			}
		}
	}
	return ""
}

// drop takes a column off, by its title; nil has none.
func (t *table) drop(title string) {
	if t == nil {
		return
	}
	i := slices.IndexFunc(t.Head, func(c column) bool { return c.Title == title })
	if i < 0 {
		return
	}
	t.Head = slices.Delete(t.Head, i, i+1)
	for r := range t.Rows {
		t.Rows[r] = slices.Delete(t.Rows[r], i, i+1)
	}
}

type column struct {
	Title  string
	Number bool
}

// render adds style, scripts and the policy that allows just these, and writes the
// page at once, so that a failing template leaves nothing half written.
func render(w io.Writer, d *doc) error {
	d.Style = template.CSS(reports.Style)
	if d.hasCharts() {
		d.Scripts = append(d.Scripts, template.JS(reports.Library))
	}
	d.Scripts = append(d.Scripts, template.JS(reports.Boot))
	d.CSP = policy(d.Style, d.Scripts)
	t, err := reports.Templates(nil)
	if err != nil {
		return fmt.Errorf("page templates: %w", err)
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "page.gohtml", d); err != nil {
		return fmt.Errorf("page %q: %w", d.Title, err)
	}
	_, err = w.Write(b.Bytes())
	return err
}

func (d *doc) hasCharts() bool {
	for _, s := range d.Sections {
		for _, f := range s.Figures {
			if f.Options != "" {
				return true
			}
		}
	}
	return false
}

// policy allows the page's own style and scripts by their hash and nothing else: no
// request, no frame, no form, no inline handler.
func policy(style template.CSS, scripts []template.JS) string {
	var allowed []string
	for _, s := range scripts {
		allowed = append(allowed, source(string(s)))
	}
	return "default-src 'none'; script-src " + strings.Join(allowed, " ") + "; style-src " + source(string(style)) +
		"; img-src data:; base-uri 'none'; form-action 'none'"
}

func source(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
