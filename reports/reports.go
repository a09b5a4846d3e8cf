// Package reports holds what the pages are made of: templates, the stylesheet, the
// script that draws the charts and the chart library's own bundle. It embeds them
// so that one binary writes pages that open anywhere without a network.
package reports

import (
	"embed"
	"html/template"
	"io/fs"
)

//go:embed page/*.gohtml
var templates embed.FS

// Words are the messages of every page, one file for each language. internal/wording
// reads them.
//
//go:embed words/*.toml
var Words embed.FS

// Style is the one stylesheet of every page.
//
//go:embed style.css
var Style string

// Boot is the one script that we write: it draws the charts of a page from the
// options that the page carries as data.
//
//go:embed script/boot.js
var Boot string

// Library is the chart library's bundle; script/README.md says how it is built.
//
//go:embed script/echarts.min.js
var Library string

// LibrarySum is the SHA-256 of Library in the form of sha256sum.
//
//go:embed script/echarts.min.js.sha256
var LibrarySum string

// Paper is the template of the paper form.
//
//go:embed paper/paper.gohtml
var Paper string

// PaperStyle is the stylesheet of the paper form.
//
//go:embed paper/paper.css
var PaperStyle string

// Templates parses every template with the given functions. The names are the file
// names.
func Templates(funcs template.FuncMap) (*template.Template, error) {
	sub, err := fs.Sub(templates, "page")
	if err != nil {
		return nil, err
	}
	return template.New("").Funcs(funcs).ParseFS(sub, "*.gohtml")
}
