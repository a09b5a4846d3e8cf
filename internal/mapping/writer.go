package mapping

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"afterfit/internal/bundle"
)

// writer writes a proposed mapping.
type writer struct {
	p       *proposer
	name    string
	fills   map[string][]string // by table: the lines of its fill
	sources []*guessed          // in the order in which they are used
	codes   map[string]map[string]string
	notes   map[string]string // by "list\nword": why a word has no code
	forms   map[string]int    // forms of the dates that are used
	comma   bool
	absent  []string
	day0    bool // the records are known to the day
}

// BlankMark marks what a proposal leaves for people to fill.
const BlankMark = "FILL IN"

// quoted writes a text as TOML does.
func quoted(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\t", `\t`, "\n", `\n`, "\r", `\r`).Replace(s) + `"`
}

func quotedList(words []string) string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = quoted(w)
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// use notes that a table takes rows from a sheet and names the source after it.
func (w *writer) use(g *guessed, table string) string {
	if g.name == "" {
		g.name = table
		w.sources = append(w.sources, g)
	}
	return g.name
}

// plan decides which sheet feeds which table and writes the fills.
func (w *writer) plan(ctx context.Context) error {
	w.fills, w.codes, w.notes, w.forms = map[string][]string{}, map[string]map[string]string{}, map[string]string{}, map[string]int{}
	p := w.p
	cases := p.best("cases", ofCase, ofDenture)
	if cases != nil {
		look := cases.things["cases.records_on"].look
		w.day0 = look.Type == "date"
	}
	for _, g := range p.sheets {
		for thing, f := range g.things {
			if f.look.Type == "date" && thing != "cases.records_on" || thing == "cases.records_on" && f.look.Type == "date" {
				w.forms[f.look.Form]++
			}
			w.comma = w.comma || f.look.Comma
		}
	}
	for _, name := range []string{"cases", "records"} {
		if g := p.best(name, ofCase, ofDenture); g != nil {
			w.fill(name, g, nil, nil, nil)
		}
	}
	for _, name := range []string{"dentures", "trays"} {
		if g := p.best(name, ofDenture); g != nil {
			w.fill(name, g, nil, nil, nil)
		}
	}
	if err := w.events(ctx); err != nil {
		return err
	}
	for _, t := range bundle.Tables {
		if w.fills[t.Name] == nil {
			w.absent = append(w.absent, t.Name)
		}
	}
	return nil
}

// events plans the tables of what came after delivery.
func (w *writer) events(ctx context.Context) error {
	for _, g := range w.p.sheets {
		if day, ok := g.things["visits.day"]; ok && day.turns != nil && g.has(caseThing) {
			w.sidewaysVisits(g, day)
		}
	}
	for _, g := range w.p.sheets {
		if g.grain != ofEvent || !g.has(caseThing) && !g.has(visitThing) {
			continue
		}
		if err := w.eventSheet(ctx, g); err != nil {
			return err
		}
	}
	for _, g := range w.p.sheets {
		if day, ok := g.things["remakes.day"]; ok && w.fills["remakes"] == nil {
			where := []string{fmt.Sprintf("where = [{ column = %s, filled = true }]  # guess: a row has a remake where this is filled", quoted(day.word))}
			scope := codeFor("scope", headerText(day.word), scopeCodes())
			if scope == "" {
				for code, known := range words().Values["scope"] {
					if slices.ContainsFunc(known, func(k string) bool { return strings.Contains(headerText(day.word), k) }) {
						scope = code
					}
				}
			}
			w.fill("remakes", g, where, nil, map[string]string{"scope": w.constant("scope", scope, "the header says so", "say what was done: remake, reline, rebase or reset")})
		}
	}
	return nil
}

func scopeCodes() []string {
	col, _ := columnOf("remakes.scope")
	return col.Codes
}

// constant writes a column that has one value in every row, or its blank.
func (w *writer) constant(name, value, why, need string) string {
	if value == "" {
		return fmt.Sprintf("%s = { value = \"\" }  # %s: %s", name, BlankMark, need)
	}
	return fmt.Sprintf("%s = { value = %s }  # guess: %s", name, quoted(value), why)
}

// sidewaysVisits plans visits and sore spots that stand side by side in a row.
func (w *writer) sidewaysVisits(g *guessed, day found) {
	if w.fills["visits"] != nil {
		return
	}
	each := []string{fmt.Sprintf("each = %s  # guess: the columns %s stand side by side", quotedList(day.turns), quoted(day.word))}
	parts := []string{g.things[caseThing].word}
	if arch, ok := g.things[archThing]; ok {
		parts = append(parts, arch.word)
	}
	id := map[string]string{visitThing: fmt.Sprintf("visit_id = { join = %s }  # guess: a key made of case, arch and place in the row", quotedList(append(parts, turnMark)))}
	w.fill("visits", g, each, nil, id)
	if zone, ok := g.things["sore_spots.zone"]; ok && zone.turns != nil {
		w.fill("sore_spots", g, each, nil, id)
	}
}

// eventSheet plans a sheet of one row an event.
func (w *writer) eventSheet(ctx context.Context, g *guessed) error {
	if g.has("readings.measure") && g.has("readings.value_mm") && w.fills["readings"] == nil {
		w.fill("readings", g, nil, nil, nil)
		return nil
	}
	scope, hasScope := g.things["remakes.scope"]
	visits, others := visitWords(scope.look)
	var whereVisit, whereOther []string
	if hasScope && len(visits) > 0 {
		whereVisit = []string{fmt.Sprintf("where = [{ column = %s, is = %s }]  # guess: these rows are visits", quoted(scope.word), quotedList(visits))}
		whereOther = []string{fmt.Sprintf("where = [{ column = %s, not = %s }]  # guess: the other rows are remakes", quoted(scope.word), quotedList(visits))}
	}
	isVisits := g.has("visits.day") && (!hasScope || len(visits) > 0)
	id, err := w.visitKey(ctx, g)
	if err != nil {
		return err
	}
	if isVisits && w.fills["visits"] == nil {
		w.fill("visits", g, whereVisit, nil, id)
	}
	if g.has("sore_spots.zone") && w.fills["sore_spots"] == nil {
		w.fill("sore_spots", g, whereVisit, nil, id)
	}
	if hasScope && len(others) > 0 && g.has("visits.day") && w.fills["remakes"] == nil {
		w.fill("remakes", g, whereOther, visits, nil)
	}
	return nil
}

// visitWords parts the values of a column into words for visits and others.
func visitWords(look ColumnLook) (visits, others []string) {
	for _, v := range look.Values {
		if has(words().Rows["visit"], plain(v.Value)) {
			visits = append(visits, v.Value)
		} else {
			others = append(others, v.Value)
		}
	}
	return visits, others
}

// visitKey finds what tells the visits of a sheet apart: its own number, else the
// fewest columns that do.
func (w *writer) visitKey(ctx context.Context, g *guessed) (map[string]string, error) {
	if own, ok := g.things[visitThing]; ok {
		return map[string]string{visitThing: fmt.Sprintf("visit_id = { column = %s }  # guess: %s", quoted(own.word), own.why)}, nil
	}
	var parts []found
	var joined []string
	for _, thing := range []string{caseThing, archThing, "visits.day", "sore_spots.zone", "sore_spots.side", "visits.minutes"} {
		f, ok := g.things[thing]
		if !ok {
			continue
		}
		parts, joined = append(parts, f), append(joined, f.word)
		if len(parts) < 3 {
			continue
		}
		n, err := w.p.distinct(ctx, g.SheetLook, parts...)
		if err != nil {
			return nil, err
		}
		if n == g.Distinct {
			return map[string]string{visitThing: fmt.Sprintf("visit_id = { join = %s }  # guess: together they tell all rows apart", quotedList(joined))}, nil
		}
	}
	return map[string]string{visitThing: fmt.Sprintf("visit_id = { join = %s }  # %s: these do not tell all rows apart; name columns that do", quotedList(joined), BlankMark)}, nil
}

// things of a table's columns that stand under the name of another table: an
// event sheet has one column for the day of visits and remakes.
func thingFor(g *guessed, table, column string) string {
	switch column {
	case caseThing, archThing, visitThing:
		return column
	}
	thing := table + "." + column
	if !g.has(thing) && table == "remakes" && column == "day" {
		return "visits.day"
	}
	return thing
}

// fill writes the fill of a table from a sheet. Head are lines above the columns,
// omit values that a filter leaves out, fixed lines of columns already decided.
func (w *writer) fill(table string, g *guessed, head, omit []string, fixed map[string]string) {
	t, _ := bundle.Find(table)
	lines := []string{fmt.Sprintf("[[%s]]", table), "from = " + quoted(w.use(g, table))}
	lines = append(lines, head...)
	lines = append(lines, "["+table+".columns]")
	var missing []string
	for _, col := range t.Columns {
		if line, ok := fixed[col.Name]; ok {
			lines = append(lines, line)
			continue
		}
		f, ok := g.things[thingFor(g, table, col.Name)]
		switch {
		case ok:
			lines = append(lines, w.column(table, col, f, omit))
		case col.Required:
			lines = append(lines, w.constant(col.Name, "", "", "no column looks like it ("+col.Meaning+")"))
		default:
			missing = append(missing, col.Name)
		}
	}
	if len(missing) > 0 {
		lines = append(lines, "# Nothing looks like: "+strings.Join(missing, ", ")+".")
	}
	w.fills[table] = lines
}

// column writes one column with its guesses and their reasons.
func (w *writer) column(table string, col bundle.Column, f found, omit []string) string {
	keys := []string{"column = " + quoted(f.word)}
	why := []string{f.why}
	blank := false
	add := func(key, value, reason string) {
		keys = append(keys, key+" = "+quoted(value))
		if reason != "" {
			why = append(why, key+": "+reason)
		}
		blank = blank || value == ""
	}
	switch col.Kind {
	case bundle.Text:
		if f.look.Folded < f.look.Distinct && f.look.Folded > 0 {
			add("letters", "upper", "some values differ only in capitals")
		}
	case bundle.Code, bundle.Codes:
		if list := w.codeList(col, f.look, omit); list != "" {
			add("codes", list, "")
		}
		if sep := separator(f.look); col.Kind == bundle.Codes && sep != "" && sep != "|" {
			add("split", sep, "it stands between several words")
		}
	case bundle.Length:
		u, reason := unitFor(f, col)
		add("unit", u, reason)
	case bundle.Int:
		if romanOnly(f.look) {
			add("numerals", "roman", "")
		}
		if col.Unit != "" {
			u, reason := unitFor(f, col)
			add("unit", u, reason)
		}
	case bundle.Day:
		w.dayKeys(table, col, f, add)
	case bundle.Period:
		w.periodKeys(f, add)
	}
	mark := "guess"
	if blank {
		mark = BlankMark
	}
	return fmt.Sprintf("%s = { %s }  # %s: %s", col.Name, strings.Join(keys, ", "), mark, strings.Join(why, "; "))
}

func (w *writer) dayKeys(table string, col bundle.Column, f found, add func(key, value, why string)) {
	if f.look.Type != "date" {
		u, reason := unitFor(f, col)
		add("unit", u, reason)
		if table == "visits" || table == "remakes" {
			for _, said := range words().Rows["delivery"] {
				if strings.Contains(plain(f.word), said) {
					add("since", fromDelivery, "the header says "+said)
					return
				}
			}
		}
		return
	}
	w.formKey(f, add)
	if w.day0 {
		add("day0", fromRecords, "")
	} else {
		add("day0", "", "name the column with the date of the records")
	}
}

// formKey writes the form of a date where it is not the one that most have.
func (w *writer) formKey(f found, add func(key, value, why string)) {
	reason := ""
	if f.look.Also != "" {
		reason = "all dates also fit " + f.look.Also + ", please check"
	}
	if f.look.Form != w.mainForm() || reason != "" {
		add("date", f.look.Form, reason)
	}
}

func (w *writer) periodKeys(f found, add func(key, value, why string)) {
	switch f.look.Type {
	case "date":
		w.formKey(f, add)
		add("keep", "month", "finer than a month is seldom allowed")
	case "period":
		add("date", f.look.Form, "")
	default:
		add("date", "yyyy", "")
	}
}

// mainForm is the form of most of the dates that are used, the first of equals.
func (w *writer) mainForm() string {
	best := ""
	for _, form := range slices.Sorted(maps.Keys(w.forms)) {
		if best == "" || w.forms[form] > w.forms[best] {
			best = form
		}
	}
	return best
}

// separator finds what stands between the words of a list.
func separator(look ColumnLook) string {
	for _, sep := range []string{"|", ";", "/", ",", "+"} {
		for _, v := range look.Values {
			if strings.Contains(v.Value, sep) {
				return sep
			}
		}
	}
	return ""
}

// codeList notes the translations that a column needs and names their list, ""
// if its values are the contract's own codes.
func (w *writer) codeList(col bundle.Column, look ColumnLook, omit []string) string {
	name := listOf(col)
	if w.codes[name] == nil {
		w.codes[name] = map[string]string{}
	}
	need := false
	for _, v := range look.Values {
		parts := []string{v.Value}
		if sep := separator(look); col.Kind == bundle.Codes && sep != "" {
			parts = strings.Split(v.Value, sep)
		}
		for _, word := range parts {
			word = strings.TrimSpace(word)
			own := strings.ReplaceAll(strings.ReplaceAll(fold(word), " ", "_"), "-", "_")
			if word == "" || has(omit, word) || has(col.Codes, own) {
				continue
			}
			need = true
			w.codes[name][word] = codeFor(listOf(col), word, col.Codes)
			w.notes[name+"\n"+word] = fmt.Sprintf("in %s; the codes are %s", bundle.Counted(v.Rows, "row", "rows"), strings.Join(col.Codes, ", "))
		}
	}
	if !need {
		return ""
	}
	return name
}
