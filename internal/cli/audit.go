package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"afterfit/internal/bundle"
	"afterfit/internal/habit"
	"afterfit/internal/page"
	"afterfit/internal/review"
	"afterfit/internal/store"
)

// auditOptions are the flags of audit.
type auditOptions struct {
	pick, out     string
	seed          uint64
	most          int
	teach, asJSON bool
	static        bool
}

const pickForms = "worst, best, random, unexplained-remake, lesion, habit=ID or zone=ARCH:ZONE[:SIDE]"

func newAudit(a *app) *cobra.Command {
	var opt auditOptions
	cmd := &cobra.Command{
		Use:   "audit [CASE...]",
		Short: "Lay single cases open for learning, by id or picked by rule",
		Long: `audit writes one HTML page for each case named, or for the cases that a rule picks:
what was recorded, what came after, what like cases needed, where to look first, and
questions to discuss. A page names nobody beyond the case's pseudonym. With --teach
the outcome is folded away until the reader opens it.

Rules: ` + pickForms + `.`,
		Example: "  afterfit audit --pick worst --out audits\n  afterfit audit --pick zone=lower:retromylohyoid --most 5 --teach\n  afterfit audit --pick random --seed 7 --json",
		RunE: func(cmd *cobra.Command, ids []string) error {
			pick, err := opt.check(ids, cmd.Flags().Changed("seed"))
			if err != nil {
				return usageError{err}
			}
			return a.audit(cmd.Context(), ids, pick, opt)
		},
	}
	f := cmd.Flags()
	f.StringVar(&opt.pick, "pick", "", "the `RULE` that picks cases: "+pickForms)
	f.Uint64Var(&opt.seed, "seed", 1, "the seed of --pick random; the same seed picks the same cases")
	f.IntVar(&opt.most, "most", 3, "how many cases a rule may pick")
	f.StringVarP(&opt.out, "out", "o", "audits", "the `FOLDER` to write into")
	f.BoolVar(&opt.teach, "teach", false, "fold the outcome away until it is opened")
	f.BoolVar(&opt.static, "static", false, staticHelp)
	f.BoolVar(&opt.asJSON, "json", false, "print the audits as JSON and write no page")
	return cmd
}

// check turns flags and arguments into a rule, nil where cases are named.
func (o auditOptions) check(ids []string, seeded bool) (*review.Pick, error) {
	switch {
	case len(ids) > 0 && o.pick != "":
		return nil, errors.New("give cases or --pick, not both")
	case len(ids) == 0 && o.pick == "":
		return nil, fmt.Errorf("name a case, or give --pick RULE: %s", pickForms)
	case o.most < 1 || o.most > 1000:
		return nil, fmt.Errorf("--most is %d: give a number from 1 to 1000", o.most)
	case seeded && o.pick != review.PickRandom:
		return nil, errors.New("--seed goes with --pick random only")
	case o.pick == "":
		return nil, nil
	}
	p, err := parsePick(o.pick)
	p.Seed, p.Most = o.seed, o.most
	return &p, err
}

// parsePick reads a rule. Its errors say what to write instead.
func parsePick(text string) (review.Pick, error) {
	rule, about, given := strings.Cut(text, "=")
	p := review.Pick{Rule: rule}
	switch rule {
	case review.PickHabit:
		p.Habit = about
		if _, ok := habit.Find(about); !ok {
			return p, fmt.Errorf("--pick habit=%s: there is no habit of that id; 'afterfit ask habits' lists them", about)
		}
		return p, nil
	case review.PickZone:
		return parseZone(p, about)
	case review.PickWorst, review.PickBest, review.PickRandom, review.PickRemake, review.PickLesion:
		if !given {
			return p, nil
		}
		return p, fmt.Errorf("--pick %s takes nothing after it: write --pick %s", rule, rule)
	}
	return p, fmt.Errorf("--pick %q is no rule: give %s", text, pickForms)
}

func parseZone(p review.Pick, about string) (review.Pick, error) {
	parts := strings.Split(about, ":")
	if len(parts) < 2 || len(parts) > 3 || (parts[0] != "upper" && parts[0] != "lower") {
		return p, fmt.Errorf("--pick zone=%s: write zone=ARCH:ZONE or zone=ARCH:ZONE:SIDE, as in zone=lower:retromylohyoid:left", about)
	}
	p.Arch, p.Zone = parts[0], parts[1]
	if known := bundle.Zones(p.Arch); !slices.Contains(known, p.Zone) {
		return p, fmt.Errorf("--pick zone=%s: the %s has no zone %q; its zones are %s", about, p.Arch, p.Zone, strings.Join(known, ", "))
	}
	if len(parts) == 3 {
		p.Side = parts[2]
		if !slices.Contains([]string{"left", "right", "middle"}, p.Side) {
			return p, fmt.Errorf("--pick zone=%s: the side is %q; give left, right or middle, the patient's own", about, p.Side)
		}
	}
	return p, nil
}

func (a *app) audit(ctx context.Context, ids []string, pick *review.Pick, opt auditOptions) error {
	s, st, err := a.begin(ctx, true)
	if err != nil {
		return err
	}
	defer st.Close()
	all, err := a.audits(ctx, st, s, ids, pick)
	if err != nil {
		return err
	}
	if opt.asJSON {
		return printJSON(a.out, all)
	}
	look := s.pageOptions()
	look.Static = opt.static
	files, err := writeAudits(opt.out, all, opt.teach, look)
	if err != nil {
		return err
	}
	for i := range all {
		fmt.Fprintf(a.out, "%s\n", files[i])
	}
	if why := page.AuditReason(&all[0]); why != "" {
		_, err = fmt.Fprintf(a.out, "Picked because %s.\n", why)
	}
	return err
}

func (a *app) audits(ctx context.Context, st *store.Store, s settings, ids []string, pick *review.Pick) ([]review.Audit, error) {
	all, err := review.Audits(ctx, st, s.Review, a.header(), ids, pick)
	var unknown *review.UnknownCase
	if errors.As(err, &unknown) {
		hint := "'afterfit ask dentures' lists the cases"
		if len(unknown.Near) > 0 {
			hint = "did you mean " + strings.Join(unknown.Near, " or ") + "?"
		}
		return nil, fmt.Errorf("there is no case %q in %s; %s: %w", unknown.ID, s.Store, hint, errNothing)
	}
	if err == nil && len(all) == 0 {
		return nil, fmt.Errorf("no case in %s meets the rule; try another of %s: %w", s.Store, pickForms, errNothing)
	}
	return all, err
}

// writeAudits writes one page for each case and returns their paths.
func writeAudits(dir string, all []review.Audit, teach bool, opt page.Options) ([]string, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("cannot make the folder %s: %w", dir, err)
	}
	files := make([]string, len(all))
	for i := range all {
		files[i] = filepath.Join(dir, page.AuditFile(all[i].Case.ID))
		if err := writeBeside(files[i], func(w io.Writer) error { return page.Audit(w, &all[i], teach, opt) }); err != nil {
			return nil, err
		}
	}
	return files, nil
}
