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
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"afterfit/internal/chart"
	"afterfit/internal/review"
	"afterfit/internal/wording"
	"afterfit/reports"
)

// Options is what a page needs beside its findings.
type Options struct {
	// Words are the language of the page; nil asks for English.
	Words *wording.Catalogue
	// LabelClinicians names clinicians in a pack; the quality lead has to ask for it.
	LabelClinicians bool
	// Static asks for a page without any script: every chart is a still picture, and
	// tables neither sort nor copy.
	Static bool
}

func (o Options) words() words {
	if o.Words == nil {
		o.Words = wording.English()
	}
	return words{o.Words, o.LabelClinicians}
}

// Pack writes the meeting pack. The same findings give the same bytes.
func Pack(w io.Writer, f *review.Findings, opt Options) error {
	return render(w, packDoc(f, opt.words()), opt.Static, opt.words())
}

// Summary writes one clinician's private page. The same summary gives the same bytes.
func Summary(w io.Writer, s *review.Summary, opt Options) error {
	return render(w, summaryDoc(s, opt.words()), opt.Static, opt.words())
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
func SummaryIndex(w io.Writer, entries []IndexEntry, about About, opt Options) error {
	return render(w, indexDoc(entries, about, opt.words()), opt.Static, opt.words())
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
	Language               string
	Title, Heading, Kicker string
	Class                  string // of the body, "" for most pages
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
	Words                  template.JS // what the script says, as JSON; "" without a script
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
	Few             []fold // which say only that they are too few to tell
	FewTitle        string
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
	Paper             printed
}

// printed is how much of a finding paper takes: all of it, its sentence, or nothing, since
// the tables tell it too. On a screen all findings open.
type printed string

const (
	whole    printed = ""
	sentence printed = "brief"
	nothing  printed = "on-screen"
)

// markPaper prints the strongest findings whole and the others that are clear or likely
// as a sentence; folds and pairs stand in one order.
func markPaper(folds []fold, pairs, strongest []review.Pair) {
	for i, p := range pairs {
		switch {
		case slices.ContainsFunc(strongest, func(s review.Pair) bool { return s.ID == p.ID }):
			folds[i].Paper = whole
		case !p.Control && (p.Grade == review.Clear || p.Grade == review.Likely):
			folds[i].Paper = sentence
		default:
			folds[i].Paper = nothing
		}
	}
}

// OnScreen is how many findings paper leaves to the tables.
func (s section) OnScreen() int {
	n := len(s.Few)
	for _, f := range s.Folds {
		if f.Paper == nothing {
			n++
		}
	}
	return n
}

// Briefly reports whether paper prints any finding as a sentence.
func (s section) Briefly() bool {
	return slices.ContainsFunc(s.Folds, func(f fold) bool { return f.Paper == sentence })
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
	Pair            bool         // shares its line with the next one on a wide screen and on paper
	Panels          []panel      // small pictures side by side
	Rank            []string     // the leading places of a map, in words
	RankTitle       string       // over them; "" for those with most
	Beside          []definition // figures beside the SVG
	Caption         string
	Table           *table
}

// tallest is the height in CSS pixels up to which a chart fits a sheet at half width,
// where each row takes two lines.
const tallest = 640

// narrowest is the width in its own units up to which a drawing keeps its text legible
// on half a page.
const narrowest = 420

var drawnWidth = regexp.MustCompile(`<svg [^>]*viewBox="0 0 (\d+) `)

// Class says how paper sets a figure: one picture that stays legible on half a page
// shares its line with the next.
func (f figure) Class() string {
	if f.Pair {
		return "half pair"
	}
	if f.Options != "" {
		return map[bool]string{true: "half"}[f.Height <= tallest]
	}
	found := drawnWidth.FindAllStringSubmatch(string(f.SVG), -1)
	if len(found) != 1 || f.Wide {
		return ""
	}
	if w, err := strconv.Atoi(found[0][1]); err != nil || w > narrowest {
		return ""
	}
	return "half"
}

// render adds style, scripts and the policy that allows just these, and writes the
// page at once, so that a failing template leaves nothing half written.
func render(out io.Writer, d *doc, static bool, w words) error {
	d.Language, d.Style = w.Code, template.CSS(w.style())
	switch {
	case static:
		if err := d.still(w); err != nil {
			return err
		}
	case d.hasCharts():
		d.Scripts = []template.JS{template.JS(reports.Library), template.JS(reports.Boot)}
	default:
		d.Scripts = []template.JS{template.JS(reports.Boot)}
	}
	if len(d.Scripts) > 0 {
		said, err := json.Marshal(w.script())
		if err != nil {
			return fmt.Errorf("words of the script: %w", err)
		}
		d.Words = template.JS(said)
	}
	d.CSP = policy(d.Style, d.Scripts)
	t, err := templates(w)
	if err != nil {
		return fmt.Errorf("page templates: %w", err)
	}
	b := pageBytes.Get().(*bytes.Buffer)
	defer pageBytes.Put(b)
	b.Reset()
	if err := t.ExecuteTemplate(b, "page.gohtml", d); err != nil {
		return fmt.Errorf("page %q: %w", d.Title, err)
	}
	_, err = out.Write(b.Bytes())
	return err
}

// templates are parsed, and made safe, once for all pages in one language.
func templates(w words) (*template.Template, error) {
	if t, ok := parsed.Load(w.Catalogue); ok {
		return t.(*template.Template), nil
	}
	t, err := reports.Templates(template.FuncMap{"say": w.Say})
	if err != nil {
		return nil, err
	}
	first, _ := parsed.LoadOrStore(w.Catalogue, t)
	return first.(*template.Template), nil
}

var parsed sync.Map // by *wording.Catalogue

// pageBytes are taken by one page after the other: a page of a megabyte that begins with
// none is copied many times over.
var pageBytes = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// each calls a function for every figure of the page, until one fails.
func (d *doc) each(do func(*figure) error) error {
	all := d.Sections
	if d.Fold != nil {
		all = slices.Concat(all, d.Fold.Sections) // figures are shared with the page's
	}
	for _, s := range all {
		for _, figures := range [][]figure{s.Figures, s.Closed} {
			for i := range figures {
				if err := do(&figures[i]); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (d *doc) hasCharts() bool {
	found := false
	_ = d.each(func(f *figure) error { found = found || f.Options != ""; return nil })
	return found
}

// still replaces every chart by a picture that needs no script.
func (d *doc) still(w words) error {
	if !d.hasCharts() {
		return nil
	}
	s, err := chart.NewStill(w.script())
	if err != nil {
		return err
	}
	return d.each(func(f *figure) error {
		if f.Options == "" {
			return nil
		}
		svg, err := s.Draw([]byte(f.Options), f.Height, f.Alt)
		f.SVG, f.Options, f.Wide = template.HTML(svg), "", true
		return err
	})
}

// policy allows the page's own style and scripts by their hash and nothing else: no
// request, no frame, no form, no inline handler.
func policy(style template.CSS, scripts []template.JS) string {
	allowed := []string{"'none'"}
	for i, s := range scripts {
		allowed = append(allowed[:i], source(string(s)))
	}
	return "default-src 'none'; script-src " + strings.Join(allowed, " ") + "; style-src " + source(string(style)) +
		"; img-src data:; base-uri 'none'; form-action 'none'"
}

func source(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
