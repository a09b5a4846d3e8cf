package wording

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/feature/plural"
)

// A message is written in a part of ICU MessageFormat, which translators and their tools
// know: {name} for an argument, {n, plural, one {# case} other {# cases}} for forms that a
// count decides, with # for the count and =0 for a number of its own, and
// {way, select, up {rose} other {fell}} for a choice that the program makes. '{' and '}'
// stand for braces. https://unicode-org.github.io/icu/userguide/format_parse/messages/
type message []node

// node is a piece of text, an argument, or forms of which the argument decides one.
type node struct {
	text   string // where arg is ""
	arg    string
	forms  map[string]message // nil for a plain argument
	plural bool
}

// plurals are the names of the forms that a count can decide, by CLDR.
var plurals = map[plural.Form]string{plural.Other: "other", plural.Zero: "zero", plural.One: "one", plural.Two: "two", plural.Few: "few", plural.Many: "many"}

// parse reads a message. An error says at which character, counted from 1.
func parse(text string) (message, error) {
	p := &reader{text: text}
	m, err := p.message("")
	if err == nil && p.at < len(text) {
		err = fmt.Errorf("a } too many")
	}
	if err != nil {
		return nil, fmt.Errorf("character %d of %q: %w", len([]rune(text[:min(p.at, len(text))]))+1, text, err)
	}
	return m, nil
}

type reader struct {
	text string
	at   int
}

// message reads up to the end or a } that it leaves; counted is the argument that # means.
func (p *reader) message(counted string) (message, error) {
	var out message
	var plain strings.Builder
	flush := func() {
		if plain.Len() > 0 {
			out = append(out, node{text: plain.String()})
			plain.Reset()
		}
	}
	for p.at < len(p.text) && p.text[p.at] != '}' {
		rest := p.text[p.at:]
		switch {
		case strings.HasPrefix(rest, "'{'"), strings.HasPrefix(rest, "'}'"):
			plain.WriteByte(rest[1])
			p.at += 3
		case rest[0] == '{':
			flush()
			n, err := p.argument()
			if err != nil {
				return nil, err
			}
			out = append(out, n)
		case rest[0] == '#' && counted != "":
			flush()
			out = append(out, node{arg: counted})
			p.at++
		default:
			plain.WriteByte(rest[0])
			p.at++
		}
	}
	flush()
	if out == nil {
		out = message{{}}
	}
	return out, nil
}

// argument reads what stands between braces.
func (p *reader) argument() (node, error) {
	p.at++
	n := node{arg: p.word()}
	if n.arg == "" {
		return n, fmt.Errorf("a { without a name behind it: write {name}")
	}
	if p.take('}') {
		return n, nil
	}
	kind := ""
	if p.take(',') {
		kind = p.word()
	}
	if (kind != "plural" && kind != "select") || !p.take(',') {
		return n, fmt.Errorf("{%s: write {%s}, {%s, plural, …} or {%s, select, …}", n.arg, n.arg, n.arg, n.arg)
	}
	n.plural, n.forms = kind == "plural", map[string]message{}
	counted := ""
	if n.plural {
		counted = n.arg
	}
	for !p.take('}') {
		name := p.word()
		if err := n.takes(name); err != nil {
			return n, err
		}
		if !p.take('{') {
			return n, fmt.Errorf("form %q of {%s}: write its text between braces", name, n.arg)
		}
		m, err := p.message(counted)
		if err != nil {
			return n, err
		}
		if !p.take('}') {
			return n, fmt.Errorf("form %q of {%s} has no } at its end", name, n.arg)
		}
		n.forms[name] = m
	}
	if n.forms["other"] == nil {
		return n, fmt.Errorf("{%s} has no form “other”, which every other case takes", n.arg)
	}
	return n, nil
}

// takes refuses the name of a form that could never be chosen.
func (n node) takes(name string) error {
	switch {
	case name == "":
		return fmt.Errorf("{%s} ends without a }, or a form has no name", n.arg)
	case n.forms[name] != nil:
		return fmt.Errorf("form %q of {%s} stands twice", name, n.arg)
	case !n.plural:
		return nil
	}
	if number, exact := strings.CutPrefix(name, "="); exact {
		if _, err := strconv.ParseInt(number, 10, 64); err == nil {
			return nil
		}
	}
	for _, known := range plurals {
		if name == known {
			return nil
		}
	}
	return fmt.Errorf("form %q of {%s}: a count knows =0 and other numbers, zero, one, two, few, many and other", name, n.arg)
}

func (p *reader) space() {
	for p.at < len(p.text) && strings.ContainsRune(" \n\t", rune(p.text[p.at])) {
		p.at++
	}
}

func (p *reader) word() string {
	p.space()
	from := p.at
	for p.at < len(p.text) && !strings.ContainsRune(" \n\t,{}", rune(p.text[p.at])) {
		p.at++
	}
	word := p.text[from:p.at]
	p.space()
	return word
}

func (p *reader) take(sign byte) bool {
	p.space()
	if p.at >= len(p.text) || p.text[p.at] != sign {
		return false
	}
	p.at++
	return true
}

// arguments collects the names of a message's arguments.
func (m message) arguments(into map[string]bool) {
	for _, n := range m {
		if n.arg != "" {
			into[n.arg] = true
		}
		for _, f := range n.forms {
			f.arguments(into)
		}
	}
}

// write writes a message with its arguments put in.
func (c *Catalogue) write(b *strings.Builder, m message, args []any) {
	for _, n := range m {
		if n.arg == "" {
			b.WriteString(n.text)
			continue
		}
		value, ok := given(args, n.arg)
		switch {
		case !ok:
			b.WriteString("⟨" + n.arg + "⟩")
		case n.forms != nil:
			c.write(b, n.form(c, value), args)
		default:
			c.put(b, value)
		}
	}
}

// given finds an argument by its name.
func given(args []any, name string) (any, bool) {
	for i := 0; i+1 < len(args); i += 2 {
		if args[i] == name {
			return args[i+1], true
		}
	}
	return nil, false
}

// put writes a value: a text as it is, a whole number as the language does.
func (c *Catalogue) put(b *strings.Builder, value any) {
	if n, ok := whole(value); ok {
		b.WriteString(c.Count(n))
		return
	}
	fmt.Fprint(b, value)
}

func whole(value any) (int64, bool) {
	switch v := value.(type) {
	case int64:
		return v, true
	case int:
		return int64(v), true
	}
	return 0, false
}

// form chooses the form that a value decides.
func (n node) form(c *Catalogue, value any) message {
	name := fmt.Sprint(value)
	if count, ok := whole(value); ok && n.plural {
		if m := n.forms["="+strconv.FormatInt(count, 10)]; m != nil {
			return m
		}
		name = plurals[plural.Cardinal.MatchPlural(c.tag, int(max(count, -count)%1_000_000), 0, 0, 0, 0)]
	}
	if m := n.forms[name]; m != nil {
		return m
	}
	return n.forms["other"]
}

// Rewritten is a catalogue in another language whose every piece of text is the source's,
// changed. Tests make a language with it.
func (c *Catalogue) Rewritten(code string, change func(string) string) (*Catalogue, error) {
	out, err := Read(code, nil, c)
	if err != nil {
		return nil, err
	}
	for k, m := range c.messages {
		out.messages[k] = m.texts(change)
	}
	return out, nil
}

func (m message) texts(change func(string) string) message {
	out := slices.Clone(m)
	for i := range out {
		out[i].text = change(out[i].text)
		if out[i].forms != nil {
			forms := make(map[string]message, len(out[i].forms))
			for name, f := range out[i].forms {
				forms[name] = f.texts(change)
			}
			out[i].forms = forms
		}
	}
	return out
}
