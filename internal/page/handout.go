package page

import (
	"io"

	"afterfit/internal/review"
)

// HandOut writes the meeting pack's one sheet of A4 or Letter: what was looked at, the
// headline figures, the strongest findings, what changed, where to look, and the
// cautions. It holds no script and no picture that a grey print would lose. The same
// findings give the same bytes.
func HandOut(w io.Writer, f *review.Findings, opt Options) error {
	return render(w, handOutDoc(f, opt.words()), true, opt.words())
}

// handOutDoc takes the sentences that lead the pack's sections, so that sheet and pack
// never disagree.
func handOutDoc(f *review.Findings, w words) *doc {
	d := packDoc(f, w)
	d.Title, d.Kicker, d.Class = w.Say("hand_out.title"), w.Say("hand_out.kicker"), "hand-out"
	d.Alert = nil
	leads := map[string]string{}
	for _, s := range d.Sections {
		leads[s.ID] = s.Lead
	}
	d.Sections = nil
	for _, part := range []struct {
		id, title string
		from      []string
	}{
		{"changed", w.Say("hand_out.changed"), []string{"since", "change", "steady"}},
		{"look", w.Say("hand_out.look"), []string{"lesions", "open", "apart", "zones", "records"}},
	} {
		s := section{ID: part.id, Title: part.title}
		for _, id := range part.from {
			if leads[id] != "" {
				s.Asks = append(s.Asks, leads[id])
			}
		}
		if len(s.Asks) > 0 {
			d.Sections = append(d.Sections, s)
		}
	}
	return d
}
