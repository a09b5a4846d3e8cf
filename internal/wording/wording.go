// Package wording holds the words of the pages: one catalogue of messages for each
// language, as data in reports/words, and numbers and dates as a language writes them.
// It knows nothing of what the messages are about.
package wording

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/language"

	"afterfit/reports"
)

// Source is the language that every message stands in, and that others fall back to.
const Source = "en"

// Catalogue is the words of one language. It is safe for use by several goroutines.
type Catalogue struct {
	// Code is the language's BCP 47 code, as the lang attribute of a page takes it.
	Code     string
	tag      language.Tag
	messages map[string]message
	source   *Catalogue // nil for the source language itself
	marks    marks
	finder   *finder
}

// Say writes the message of a key. Arguments are names and values in turn: "n", 3. Whole
// numbers are written as the language does and decide its plural forms; texts stand as
// they are. A key or an argument that is missing stands in its place between ⟨ and ⟩,
// which no page may hold; a test walks the code for both.
func (c *Catalogue) Say(key string, args ...any) string {
	in, m, ok := c.find(key)
	if !ok {
		return "⟨" + key + "⟩"
	}
	if len(m) == 1 && m[0].arg == "" {
		return m[0].text
	}
	var b strings.Builder
	in.write(&b, m, args)
	return b.String()
}

// Named writes the message whose key is the pattern with the id in place of its star, as
// in "outcome.*.title". It reports false where the catalogue has no such message: ids may
// be a practice's own codes.
func (c *Catalogue) Named(pattern, id string, args ...any) (string, bool) {
	key := strings.Replace(pattern, "*", id, 1)
	if _, _, ok := c.find(key); !ok {
		return "", false
	}
	return c.Say(key, args...), true
}

// find returns a message and the catalogue that has it, whose language decides its forms.
func (c *Catalogue) find(key string) (*Catalogue, message, bool) {
	if m, ok := c.messages[key]; ok {
		return c, m, true
	}
	if c.source != nil {
		return c.source.find(key)
	}
	return c, nil, false
}

// Keys are the keys that the catalogue itself has, sorted.
func (c *Catalogue) Keys() []string {
	out := make([]string, 0, len(c.messages))
	for k := range c.messages {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// Missing are the keys of the source language that this one falls back for, sorted.
func (c *Catalogue) Missing() []string {
	if c.source == nil {
		return nil
	}
	return slices.DeleteFunc(c.source.Keys(), func(k string) bool { _, ok := c.messages[k]; return ok })
}

// Arguments are the names of the arguments that a message takes, sorted.
func (c *Catalogue) Arguments(key string) []string {
	_, m, _ := c.find(key)
	names := map[string]bool{}
	m.arguments(names)
	out := []string{}
	for n := range names {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}

// Read makes a catalogue from TOML: tables of messages, whose names joined by dots are
// the keys. With a source it refuses a key that the source does not have and an argument
// that the source's message does not take. Errors name the key and what to write instead.
func Read(code string, text []byte, source *Catalogue) (*Catalogue, error) {
	tag, err := language.Parse(code)
	if err != nil {
		return nil, fmt.Errorf("language %q: give a BCP 47 code, as in en or pt-BR: %w", code, err)
	}
	var tables map[string]any
	if err := toml.Unmarshal(text, &tables); err != nil {
		return nil, fmt.Errorf("words of %s: %w", code, err)
	}
	c := &Catalogue{Code: code, tag: tag, messages: map[string]message{}, source: source, marks: marksOf(tag), finder: &finder{}}
	if err := c.add("", tables); err != nil {
		return nil, fmt.Errorf("words of %s: %w", code, err)
	}
	return c, nil
}

func (c *Catalogue) add(before string, tables map[string]any) error {
	for name, value := range tables {
		key := before + name
		switch v := value.(type) {
		case map[string]any:
			if err := c.add(key+".", v); err != nil {
				return err
			}
		case string:
			m, err := parse(v)
			if err != nil {
				return fmt.Errorf("%s: %w", key, err)
			}
			c.messages[key] = m
			if err := c.agrees(key); err != nil {
				return fmt.Errorf("%s: %w", key, err)
			}
		default:
			return fmt.Errorf("%s is %v: write a text between quotation marks", key, value)
		}
	}
	return nil
}

// agrees holds a translated message to its source.
func (c *Catalogue) agrees(key string) error {
	if c.source == nil {
		return nil
	}
	if _, ok := c.source.messages[key]; !ok {
		return fmt.Errorf("%s has no message of that key: take it out, or correct its name", c.source.Code)
	}
	known := c.source.Arguments(key)
	for _, name := range c.Arguments(key) {
		if !slices.Contains(known, name) {
			return fmt.Errorf("no argument is called {%s}: the message takes %s", name, strings.Join(known, ", "))
		}
	}
	return nil
}

// english is read once; a test holds that it can be.
var english = sync.OnceValue(func() *Catalogue {
	text, err := reports.Words.ReadFile("words/" + Source + ".toml")
	if err != nil {
		panic(err)
	}
	c, err := Read(Source, text, nil)
	if err != nil {
		panic(err)
	}
	return c
})

// English is the source language.
func English() *Catalogue { return english() }

// Languages are the codes of the languages that there are, sorted.
func Languages() []string {
	files, _ := reports.Words.ReadDir("words")
	out := make([]string, len(files))
	for i, f := range files {
		out[i] = strings.TrimSuffix(f.Name(), ".toml")
	}
	slices.Sort(out)
	return out
}

// In returns the catalogue of a language, "" for the source. The error for one that there
// is not names those that there are.
func In(code string) (*Catalogue, error) {
	if code == "" || code == Source {
		return English(), nil
	}
	all := Languages()
	if !slices.Contains(all, code) {
		return nil, fmt.Errorf("there are no words for the language %q: give %s", code, strings.Join(all, " or "))
	}
	text, err := reports.Words.ReadFile("words/" + code + ".toml")
	if err != nil {
		return nil, err
	}
	return Read(code, text, English())
}
