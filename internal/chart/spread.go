package chart

import (
	"fmt"
	"math"
	"strings"

	"afterfit/internal/wording"
)

// Spread is one value beside a range that it can be held against, all in one unit.
// NaN means not known. Low to High is a band (the house's middle nine tenths, or an
// interval) with Mid inside it; UsualLow to UsualHigh is a second range.
type Spread struct {
	Value               float64
	Low, Mid, High      float64
	UsualLow, UsualHigh float64
	LowText, HighText   string // the band's ends in words, written under them
	Text                string // the value in words, written over the mark
	Zero                bool   // the scale holds zero, as it should for counts
	Beyond              bool   // drawn as a diamond
	Title               string
}

// Measures of a spread in its own units; the width is that of a small screen, so that
// the words stay readable there.
const spreadWidth, spreadMargin = 300, 34

// Draw draws the band with its ends written under it, the second range as a dashed
// bracket, and the value as a disc, or as a diamond where it is beyond.
func (p Spread) Draw(w *wording.Catalogue) string {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range []float64{p.Value, p.Low, p.High, p.UsualLow, p.UsualHigh} {
		if !math.IsNaN(v) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	if p.Zero {
		low = math.Min(low, 0)
	}
	if high-low < 1e-9 {
		low, high = low-1, high+1
	}
	x := func(v float64) float64 { return spreadMargin + (v-low)/(high-low)*(spreadWidth-2*spreadMargin) }
	var b strings.Builder
	height, usual := 62, !math.IsNaN(p.UsualLow) && !math.IsNaN(p.UsualHigh)
	if usual {
		height = 92
	}
	svgHead(&b, "spread", spreadWidth, height, p.Title)
	if p.Zero {
		fmt.Fprintf(&b, `<line class="zero" x1="%.1f" x2="%.1f" y1="26" y2="46"/><text class="tick" x="%.1f" y="40" text-anchor="end">0</text>`, x(0), x(0), x(0)-5)
	}
	if !math.IsNaN(p.Low) && !math.IsNaN(p.High) {
		fmt.Fprintf(&b, `<rect class="band" x="%.1f" y="28" width="%.1f" height="16"/>`, x(p.Low), math.Max(1, x(p.High)-x(p.Low)))
		ends(&b, x(p.Low), x(p.High), 58, p.LowText, p.HighText)
	}
	if !math.IsNaN(p.Mid) {
		fmt.Fprintf(&b, `<line class="all" x1="%.1f" x2="%.1f" y1="26" y2="46"/>`, x(p.Mid), x(p.Mid))
	}
	if usual {
		l, h := x(p.UsualLow), x(p.UsualHigh)
		fmt.Fprintf(&b, `<path class="usual" d="M%.1f 66V74M%.1f 70H%.1fM%.1f 66V74"/>`, l, l, h, h)
		fmt.Fprintf(&b, `<text class="tick" x="%.1f" y="88" text-anchor="middle">%s</text>`, clamp((l+h)/2, 60, spreadWidth-60), escape(w.Say("chart.usual_range", "low", w.Tick(round2(p.UsualLow)), "high", w.Tick(round2(p.UsualHigh)))))
	}
	if !math.IsNaN(p.Value) {
		kind := `<circle class="own" cx="%.1f" cy="36" r="7"/>`
		if p.Beyond {
			kind = `<path class="remake" d="M%[1]f 26l10 10l-10 10l-10 -10Z"/>`
		}
		fmt.Fprintf(&b, kind+`<text class="you" x="%.1f" y="17" text-anchor="middle">%s</text>`, x(p.Value), clamp(x(p.Value), 24, spreadWidth-24), escape(p.Text))
	}
	b.WriteString("</svg>")
	return b.String()
}

// ends writes both ends of a band, apart from each other even where it is narrow.
func ends(b *strings.Builder, low, high, y float64, lowText, highText string) {
	if lowText == highText {
		fmt.Fprintf(b, `<text class="tick" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, (low+high)/2, y, escape(lowText))
		return
	}
	lowAnchor, highAnchor := "middle", "middle"
	if high-low < 44 {
		lowAnchor, highAnchor = "end", "start"
		low, high = (low+high)/2-5, (low+high)/2+5
	}
	fmt.Fprintf(b, `<text class="tick" x="%.1f" y="%.1f" text-anchor="%s">%s</text><text class="tick" x="%.1f" y="%.1f" text-anchor="%s">%s</text>`,
		low, y, lowAnchor, escape(lowText), high, y, highAnchor, escape(highText))
}

func clamp(v, low, high float64) float64 { return math.Min(high, math.Max(low, v)) }

func round2(v float64) float64 { return math.Round(v*100) / 100 }
