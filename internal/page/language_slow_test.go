//go:build slow

package page

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"afterfit/internal/demo"
	"afterfit/internal/intake"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

// reviewedPages are all kinds of pages of an invented service of so many cases, as a
// review finds them.
func reviewedPages(t *testing.T, cases int, opt Options) map[string]spoken {
	t.Helper()
	ctx, dir := context.Background(), t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, demo.Options{Cases: cases}))
	st, err := store.Open(ctx, "", store.Options{TempDir: t.TempDir()})
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	_, err = intake.Load(ctx, st, dir, intake.LoadOptions{Strict: true})
	require.NoError(t, err)
	settings, header := review.DefaultSettings(), review.Header{Version: "0.1.0", AsOf: "2026-07-14"}
	settings.Changes = []review.Change{{Name: "CHANGE", What: "clearance_over_2", Where: []string{"H2"}, From: "2023-07"}}
	f, err := review.Run(ctx, st, settings, header)
	require.NoError(t, err)
	raw, err := json.Marshal(f)
	require.NoError(t, err)
	earlier, err := review.ReadFindings(raw)
	require.NoError(t, err)
	f.Since = review.Compare(earlier, f)
	shared, err := review.Share(ctx, st, settings, header, "seed")
	require.NoError(t, err)
	own, err := review.Summaries(ctx, st, settings, header, nil, f)
	require.NoError(t, err)
	named := opt
	named.LabelClinicians = true
	out := map[string]spoken{
		"pack":     {f, func(w io.Writer) error { return Pack(w, f, named) }},
		"hand-out": {f, func(w io.Writer) error { return HandOut(w, f, opt) }},
		"shared":   {shared, func(w io.Writer) error { return Shared(w, shared, opt) }},
	}
	for i := range own[:min(4, len(own))] {
		s := &own[i]
		out["summary "+s.Clinician] = spoken{s, func(w io.Writer) error { return Summary(w, s, opt) }}
	}
	for _, rule := range []string{review.PickWorst, review.PickLesion, review.PickRandom} {
		audits, err := review.Audits(ctx, st, settings, header, nil, &review.Pick{Rule: rule, Most: 3, Seed: 1})
		require.NoError(t, err)
		for i := range audits {
			a := &audits[i]
			out["audit "+a.Case.ID] = spoken{a, func(w io.Writer) error { return Audit(w, a, false, opt) }}
			out["teach "+a.Case.ID] = spoken{a, func(w io.Writer) error { return Audit(w, a, true, opt) }}
		}
	}
	return out
}

// What a review finds is all said in the page's language: here the sentences of the
// findings are ours too, and only codes and names are data.
func TestReviewedPagesSpeakOneLanguage(t *testing.T) {
	opt := foreign(t)
	for _, cases := range []int{150, 900} {
		for name, p := range reviewedPages(t, cases, opt) {
			var b bytes.Buffer
			require.NoError(t, p.write(&b), name)
			speaksOnly(t, name, b.String(), dataOf(t, p.from, opt.words(), codes))
			countsOnly(t, name, b.String(), nil)
		}
	}
}
