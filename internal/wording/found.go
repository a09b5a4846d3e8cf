package wording

import (
	"cmp"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// finder tells which message an English text is of. It is made when first asked.
type finder struct {
	once    sync.Once
	exact   map[string][]string // keys by text
	pattern []pattern           // those with the most text first
	known   sync.Map            // known to what Found returned
}

// known is what Found was asked: a text, and the groups to look in.
type known struct{ text, groups string }

type pattern struct {
	key   string
	text  *regexp.Regexp
	names []string // of the arguments, in the order of the source
	size  int
}

// Found gives a text that travels in English, as findings do, in the catalogue's language:
// that of the message, within the groups given, whose English reads so. What stands in
// place of an argument is found or written as the language does in its turn. It reports
// false where no message reads so; the source language gives every text back.
func (c *Catalogue) Found(text string, groups ...string) (string, bool) {
	if c.source == nil || text == "" {
		return text, true
	}
	of := known{text, strings.Join(groups, " ")}
	if out, ok := c.finder.known.Load(of); ok {
		return out.(string), true
	}
	c.finder.once.Do(c.index)
	in := func(key string) bool {
		return slices.ContainsFunc(groups, func(g string) bool { return strings.HasPrefix(key, g) })
	}
	for _, key := range c.finder.exact[text] {
		if in(key) {
			return c.keep(of, c.Say(key)), true
		}
	}
	for _, p := range c.finder.pattern {
		parts := p.text.FindStringSubmatch(text)
		if parts == nil || !in(p.key) {
			continue
		}
		var args []any
		for i, name := range p.names {
			args = append(args, name, c.value(parts[i+1], groups))
		}
		return c.keep(of, c.Say(p.key, args...)), true
	}
	return text, false
}

// Told takes an English text apart by the message that it reads like: what stands in place
// of each argument, as it stands. It reports false where the text does not read so.
func (c *Catalogue) Told(key, text string) (map[string]string, bool) {
	c.finder.once.Do(c.index)
	at := slices.IndexFunc(c.finder.pattern, func(p pattern) bool { return p.key == key })
	if at < 0 {
		return nil, false
	}
	p := c.finder.pattern[at]
	parts := p.text.FindStringSubmatch(text)
	if parts == nil {
		return nil, false
	}
	args := map[string]string{}
	for i, name := range p.names {
		args[name] = parts[i+1]
	}
	return args, true
}

func (c *Catalogue) keep(of known, found string) string {
	c.finder.known.Store(of, found)
	return found
}

// index sorts the source's messages by their text. One with forms of its own cannot be
// told by its text and is passed over.
func (c *Catalogue) index() {
	c.finder.exact = map[string][]string{}
	source := cmp.Or(c.source, c)
	for _, key := range source.Keys() {
		m := source.messages[key]
		if len(m) == 1 && m[0].arg == "" {
			c.finder.exact[m[0].text] = append(c.finder.exact[m[0].text], key)
			continue
		}
		p := pattern{key: key}
		var b strings.Builder
		for _, n := range m {
			switch {
			case n.forms != nil:
				p.size = -1
			case n.arg != "":
				b.WriteString("(.+?)")
				p.names = append(p.names, n.arg)
			default:
				b.WriteString(regexp.QuoteMeta(n.text))
				p.size += len(n.text)
			}
			if p.size < 0 {
				break
			}
		}
		if p.size > leastText {
			p.text = regexp.MustCompile("^" + b.String() + "$")
			c.finder.pattern = append(c.finder.pattern, p)
		}
	}
	slices.SortStableFunc(c.finder.pattern, func(a, b pattern) int { return cmp.Compare(b.size, a.size) })
}

// leastText is how many letters of its own a message needs to be told by.
const leastText = 8

var figure = regexp.MustCompile(`^-?\d[\d,]*(\.\d+)?$`)

// value is what stood in place of an argument, for the same argument in this language.
func (c *Catalogue) value(text string, groups []string) any {
	if !figure.MatchString(text) {
		if found, ok := c.Found(text, groups...); ok {
			return found
		}
		return c.Period(text)
	}
	plain := strings.ReplaceAll(text, ",", "")
	if n, err := strconv.ParseInt(plain, 10, 64); err == nil {
		return n
	}
	v, err := strconv.ParseFloat(plain, 64)
	if err != nil {
		return text
	}
	_, part, _ := strings.Cut(plain, ".")
	return c.Number(v, len(part))
}
