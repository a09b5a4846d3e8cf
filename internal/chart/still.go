package chart

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/dop251/goja"

	"afterfit/reports"
)

// Widths of still pictures in their own units. On a broad one figures stand beside the
// names, and the text stays legible when paper shrinks it; a narrow one fits a telephone.
const (
	StillWidth  = 680
	NarrowWidth = 312
)

// Still draws charts without a browser: the page's own chart library and drawings run in
// an interpreter that has no files, network or clock of ours, and hand back SVG. One
// Still serves one page, so that the ids in its pictures are the same every time. It is
// not safe for use by several goroutines.
type Still struct {
	vm   *goja.Runtime
	draw goja.Callable
}

// compiled holds the scripts, which take longer to read than to run.
var compiled = sync.OnceValues(func() ([]*goja.Program, error) {
	var out []*goja.Program
	for _, s := range []struct{ name, text string }{{"library", reports.Library}, {"boot", reports.Boot}, {"still", stillScript}} {
		p, err := goja.Compile(s.name, s.text, true)
		if err != nil {
			return nil, fmt.Errorf("chart script: %w", err)
		}
		out = append(out, p)
	}
	return out, nil
})

// stillScript draws one chart at a width that is given, as boot.js does in a browser.
const stillScript = `(function (text, high, width) {
  var option = JSON.parse(text);
  high = window.afterfitTall(high, option, width);
  var chart = window.echarts.init(null, null, { renderer: 'svg', ssr: true, width: width, height: high });
  chart.setOption(window.afterfitPrepare(option));
  var svg = chart.renderToSVGString();
  chart.dispose();
  return [String(high), svg];
})`

// Words are what boot.js says, and how it writes numbers.
type Words struct {
	Language  string `json:"language"`
	Decimal   string `json:"decimal"`
	Thousands string `json:"thousands"`
	Percent   string `json:"percent"` // with {n}
	Range     string `json:"range"`   // what stands between two limits
	Day       string `json:"day"`     // with {day}
	// Periods are how the language writes the four quarters, the twelve months, and a day
	// of each month, one a line, with {year} and {day}.
	Periods   string `json:"periods"`
	Copy      string `json:"copy"`
	Copied    string `json:"copied"`
	NotCopied string `json:"notCopied"`
	Behind    string `json:"behind"`   // with {number}
	Numbered  string `json:"numbered"` // with {number} and {caption}
	Caption   string `json:"caption"`  // how captions of tables begin
	Tables    string `json:"tables"`
}

// NewStill readies the interpreter.
func NewStill(said Words) (*Still, error) {
	programs, err := compiled()
	if err != nil {
		return nil, err
	}
	vm := goja.New()
	vm.SetRandSource(func() float64 { return 0.5 })
	nothing := func(goja.FunctionCall) goja.Value { return vm.ToValue(0) }
	for name, value := range map[string]any{"window": vm.GlobalObject(), "self": vm.GlobalObject(), "setTimeout": nothing, "clearTimeout": nothing} {
		if err := vm.Set(name, value); err != nil {
			return nil, fmt.Errorf("chart script: %w", err)
		}
	}
	raw, err := json.Marshal(said)
	if err != nil {
		return nil, fmt.Errorf("chart script: %w", err)
	}
	if _, err := vm.RunString("window.afterfitWords = " + string(raw)); err != nil {
		return nil, fmt.Errorf("chart script: %w", err)
	}
	var last goja.Value
	for _, p := range programs {
		if last, err = vm.RunProgram(p); err != nil {
			return nil, fmt.Errorf("chart script: %w", err)
		}
	}
	draw, ok := goja.AssertFunction(last)
	if !ok {
		return nil, errors.New("the chart script ends without a function")
	}
	return &Still{vm, draw}, nil
}

// Draw returns a chart as inline SVG with a title, once for wide screens and paper and
// once for narrow screens; the stylesheet shows one of them. It fails where the library
// refuses the options, or draws what a page may not hold.
func (s *Still) Draw(options []byte, height int, title string) (string, error) {
	broad, err := s.drawAt(options, height, StillWidth, "still broad", title)
	if err != nil {
		return "", fmt.Errorf("chart %q: %w", title, err)
	}
	narrow, err := s.drawAt(options, height, NarrowWidth, "still narrow", title)
	if err != nil {
		return "", fmt.Errorf("chart %q: %w", title, err)
	}
	return broad + narrow, nil
}

func (s *Still) drawAt(options []byte, height, width int, class, title string) (string, error) {
	v, err := s.draw(goja.Undefined(), s.vm.ToValue(string(options)), s.vm.ToValue(height), s.vm.ToValue(width))
	if err != nil {
		return "", fmt.Errorf("drawing at %d: %w", width, err)
	}
	var drawn []string
	if err := s.vm.ExportTo(v, &drawn); err != nil || len(drawn) != 2 {
		return "", fmt.Errorf("drawing at %d: the chart script returned no picture: %w", width, err)
	}
	high, err := strconv.ParseFloat(drawn[0], 64)
	if err != nil {
		return "", fmt.Errorf("drawing at %d: height: %w", width, err)
	}
	var b strings.Builder
	svgHead(&b, class, width, int(high), title)
	if err := clean(&b, drawn[1]); err != nil {
		return "", fmt.Errorf("drawing at %d: %w", width, err)
	}
	return b.String(), nil
}

// What a still picture may hold. The rest is left out: colours on hover, the library's
// own marks, and styles, which the page's policy would refuse.
var (
	stillElements = []string{"g", "path", "text", "tspan", "circle", "rect", "polygon", "polyline", "line", "defs", "clipPath"}
	stillDropped  = []string{"style"}
	stillNames    = []string{"d", "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "points", "width", "height", "id", "transform", "fill", "fill-opacity", "opacity",
		"stroke", "stroke-width", "stroke-opacity", "stroke-dasharray", "stroke-linejoin", "stroke-linecap", "paint-order", "text-anchor", "dominant-baseline", "clip-path"}
)

// clean writes the library's picture again with what a page may hold, and nothing else.
func clean(b *strings.Builder, svg string) error {
	d, dropped := xml.NewDecoder(strings.NewReader(svg)), 0
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("the library's picture: %w", err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			if dropped > 0 || slices.Contains(stillDropped, t.Name.Local) {
				dropped++
			} else if err := start(b, t); err != nil {
				return err
			}
		case xml.EndElement:
			if dropped > 0 {
				dropped--
			} else {
				b.WriteString("</" + t.Name.Local + ">")
			}
		case xml.CharData:
			if text := strings.Trim(string(t), "\n"); dropped == 0 && text != "" {
				b.WriteString(escape(text))
			}
		}
	}
}

func start(b *strings.Builder, t xml.StartElement) error {
	if t.Name.Local == "svg" { // its head is written already
		return nil
	}
	if !slices.Contains(stillElements, t.Name.Local) {
		return fmt.Errorf("the library drew <%s>, which no page may hold", t.Name.Local)
	}
	b.WriteString("<" + t.Name.Local)
	for _, a := range t.Attr {
		if slices.Contains(stillNames, a.Name.Local) {
			fmt.Fprintf(b, ` %s="%s"`, a.Name.Local, escape(rounded(a.Name.Local, a.Value)))
		}
	}
	b.WriteString(">")
	return nil
}

// rounded keeps single coordinates to a hundredth of a unit.
func rounded(name, value string) string {
	v, err := strconv.ParseFloat(value, 64)
	if err != nil || name == "id" || strings.HasPrefix(name, "fill") || strings.HasPrefix(name, "stroke") {
		return value
	}
	return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
}
