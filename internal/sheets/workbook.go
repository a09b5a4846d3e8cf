package sheets

import (
	"archive/zip"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"
)

const contentTypes = "[Content_Types].xml"

// workbook is an XLSX file: ECMA-376 part 1, read with the standard library's XML
// decoder. A library that hands out rows as text was tried first: it drops the
// types of cells (a date is a number, true is 1) and ends a damaged sheet without
// an error, which loses rows in silence.
type workbook struct {
	file    *file
	z       *zip.ReadCloser
	parts   map[string]*zip.File
	left    int64 // bytes that may still be unpacked
	date04  bool  // serial dates count from 1904
	dates   []bool
	strings *stringTable
	shared  string // the part with the shared strings, "" if there is none
}

// maxParts bounds the number of parts of a workbook.
const maxParts = 10000

// addWorkbook lists the sheets of a workbook, hidden ones too.
func (b *Book) addWorkbook(ctx context.Context, f *file) error {
	z, err := zip.OpenReader(f.path)
	if err != nil {
		return &Fault{File: f.name, Found: "a damaged workbook (" + err.Error() + ")", Remedy: "open it in a spreadsheet program and save it again"}
	}
	b.closers = append(b.closers, z.Close)
	wb := &workbook{file: f, z: z, parts: map[string]*zip.File{}, left: maxUnpacked}
	if len(z.File) > maxParts {
		return wb.fault(fmt.Sprintf("a workbook of %d parts", len(z.File)), "save the tables in a workbook of their own")
	}
	for _, p := range z.File {
		wb.parts[strings.ToLower(strings.TrimPrefix(p.Name, "/"))] = p
	}
	list, err := wb.list(ctx)
	if err != nil {
		return err
	}
	for _, s := range list {
		info := Info{File: f.name, Sheet: s.name, Format: XLSX, Hidden: s.hidden}
		b.sources = append(b.sources, source{info: info, from: f, read: func(ctx context.Context, _ Override, w *gridWriter) error {
			return wb.readSheet(ctx, s.part, w)
		}})
	}
	return nil
}

func (wb *workbook) fault(found, remedy string) error {
	return &Fault{File: wb.file.name, Found: found, Remedy: remedy}
}

func (wb *workbook) damaged(what string) error {
	return wb.fault("a damaged workbook ("+what+")", "open it in a spreadsheet program and save it again")
}

// open opens a part, bounded by what the workbook may still unfold to.
func (wb *workbook) open(ctx context.Context, name string) (io.ReadCloser, error) {
	p := wb.parts[strings.ToLower(name)]
	if p == nil {
		return nil, wb.damaged("no part " + name)
	}
	if p.UncompressedSize64 > uint64(wb.left) {
		return nil, named(errTooBig, wb.file.name)
	}
	r, err := p.Open()
	if err != nil {
		return nil, wb.damaged(err.Error())
	}
	return both{&bounded{ctx: ctx, r: r, left: wb.left}, r}, nil
}

// walkPart calls visit for every start tag of a part; attrs finds attributes by
// local name.
func (wb *workbook) walkPart(ctx context.Context, name string, visit func(d *xml.Decoder, el xml.StartElement) error) error {
	r, err := wb.open(ctx, name)
	if err != nil {
		return err
	}
	defer r.Close()
	d := xml.NewDecoder(r)
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return wb.partError(err, name)
		}
		if el, ok := tok.(xml.StartElement); ok {
			if err := visit(d, el); err != nil {
				return err
			}
		}
	}
}

// partError says what went wrong while a part was read.
func (wb *workbook) partError(err error, name string) error {
	if errors.Is(err, errTooBig) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return named(err, wb.file.name)
	}
	var fault *Fault
	if errors.As(err, &fault) {
		return err
	}
	return wb.damaged(name + ": " + err.Error())
}

func attr(el xml.StartElement, local string) string {
	for _, a := range el.Attr {
		if a.Name.Local == local {
			return a.Value
		}
	}
	return ""
}

// relations reads which part an id of another part stands for, and of what type.
func (wb *workbook) relations(ctx context.Context, of string) (parts, types map[string]string, err error) {
	parts, types = map[string]string{}, map[string]string{}
	dir, base := path.Split(of)
	rels := path.Join(dir, "_rels", base+".rels")
	err = wb.walkPart(ctx, rels, func(_ *xml.Decoder, el xml.StartElement) error {
		if el.Name.Local != "Relationship" || attr(el, "TargetMode") == "External" {
			return nil
		}
		target := attr(el, "Target")
		if !strings.HasPrefix(target, "/") {
			target = path.Join(dir, target)
		}
		id := attr(el, "Id")
		parts[id], types[id] = strings.TrimPrefix(target, "/"), path.Base(attr(el, "Type"))
		return nil
	})
	return parts, types, err
}

// mainPart finds the part that lists the sheets.
func (wb *workbook) mainPart(ctx context.Context) (string, error) {
	parts, types, err := wb.relations(ctx, "")
	if err != nil {
		return "", err
	}
	for id, t := range types {
		if t == "officeDocument" {
			return parts[id], nil
		}
	}
	return "", wb.damaged("no list of sheets")
}

type sheetEntry struct {
	name, part string
	hidden     bool
}

// list reads the sheets in the order of their tabs, the day that dates count from,
// and which styles are dates.
func (wb *workbook) list(ctx context.Context) ([]sheetEntry, error) {
	main, err := wb.mainPart(ctx)
	if err != nil {
		return nil, err
	}
	parts, types, err := wb.relations(ctx, main)
	if err != nil {
		return nil, err
	}
	for id, t := range types {
		switch t {
		case "styles":
			err = errors.Join(err, wb.readStyles(ctx, parts[id]))
		case "sharedStrings":
			wb.shared = parts[id]
		}
	}
	if err != nil {
		return nil, err
	}
	var list []sheetEntry
	err = wb.walkPart(ctx, main, func(_ *xml.Decoder, el xml.StartElement) error {
		switch el.Name.Local {
		case "workbookPr":
			v := attr(el, "date1904")
			wb.date04 = v == "1" || v == "true"
		case "sheet":
			id := attr(el, "id")
			if types[id] != "worksheet" {
				return nil // a sheet that holds a chart
			}
			state := attr(el, "state")
			list = append(list, sheetEntry{attr(el, "name"), parts[id], state == "hidden" || state == "veryHidden"})
		}
		return nil
	})
	return list, err
}

// readStyles notes for every cell style whether it shows a number as a date.
func (wb *workbook) readStyles(ctx context.Context, part string) error {
	custom := map[int]bool{}
	inCells := false
	return wb.walkPart(ctx, part, func(_ *xml.Decoder, el xml.StartElement) error {
		id, _ := strconv.Atoi(attr(el, "numFmtId"))
		switch el.Name.Local {
		case "numFmt":
			custom[id] = isDateFormat(attr(el, "formatCode"))
		case "cellStyleXfs":
			inCells = false
		case "cellXfs":
			inCells = true
		case "cellStyles", "dxfs":
			inCells = false
		case "xf":
			if !inCells {
				return nil
			}
			date, own := custom[id]
			wb.dates = append(wb.dates, own && date || !own && builtinDate(id))
		}
		return nil
	})
}

// builtinDate reports the number formats that ECMA-376 part 1, 18.8.30 defines as
// dates and times, elapsed time (46) left out.
func builtinDate(id int) bool {
	return id >= 14 && id <= 22 || id >= 27 && id <= 36 || id == 45 || id == 47 || id >= 50 && id <= 58
}

// isDateFormat reports whether a number format shows a date or a time of day: its
// first section has one of y m d h s outside quotes, brackets and escapes. Elapsed
// time ([h]:mm) is a plain number.
func isDateFormat(code string) bool {
	code, _, _ = strings.Cut(code, ";")
	found := false
	for i := 0; i < len(code); i++ {
		switch c := code[i] | 0x20; {
		case code[i] == '\\' || code[i] == '_' || code[i] == '*':
			i++
		case code[i] == '"':
			end := strings.IndexByte(code[i+1:], '"')
			if end < 0 {
				return found
			}
			i += end + 1
		case code[i] == '[':
			end := strings.IndexByte(code[i:], ']')
			if end < 0 {
				return found
			}
			if inside := strings.ToLower(code[i+1 : i+end]); inside != "" && strings.Trim(inside, inside[:1]) == "" && strings.ContainsAny(inside[:1], "hms") {
				return false
			}
			i += end
		case strings.HasPrefix(strings.ToLower(code[i:]), "general"):
			i += len("general") - 1
		case c == 'y' || c == 'm' || c == 'd' || c == 'h' || c == 's':
			found = true
		}
	}
	return found
}
