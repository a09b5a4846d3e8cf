package review

import (
	"slices"

	"afterfit/internal/habit"
)

// sorePlace is one place of a case with the visits at which it was sore.
type sorePlace struct {
	arch, zone, side string
	visits           []int
}

// sorePlaces collects the places of a case in order of arch (upper first), zone and side.
func sorePlaces(a *Audit) []sorePlace {
	var out []sorePlace
	for _, v := range a.Visits {
		for _, p := range v.Spots {
			i := slices.IndexFunc(out, func(s sorePlace) bool { return s.arch == p.Arch && s.zone == p.Zone && s.side == p.Side })
			if i < 0 {
				out, i = append(out, sorePlace{p.Arch, p.Zone, p.Side, nil}), len(out)
			}
			if !slices.Contains(out[i].visits, v.Number) {
				out[i].visits = append(out[i].visits, v.Number)
			}
		}
	}
	slices.SortStableFunc(out, func(x, y sorePlace) int {
		return slices.Compare([]string{y.arch, x.zone, x.side}, []string{x.arch, y.zone, y.side})
	})
	return out
}

// auditPointers looks every sore zone up in the table of pointers.
func auditPointers(a *Audit) []AuditPointer {
	out := []AuditPointer{}
	for _, s := range sorePlaces(a) {
		p, ok := habit.PointerFor(s.arch, s.zone)
		if !ok {
			continue
		}
		if n := len(out); n == 0 || out[n-1].Arch != s.arch || out[n-1].Zone != s.zone {
			out = append(out, AuditPointer{Arch: s.arch, Zone: s.zone, Sides: []string{}, Visits: []int{}, LookAt: p.LookAt, Source: p.Source})
		}
		last := &out[len(out)-1]
		last.Sides = append(last.Sides, s.side)
		for _, v := range s.visits {
			if !slices.Contains(last.Visits, v) {
				last.Visits = append(last.Visits, v)
			}
		}
		slices.Sort(last.Visits)
	}
	return out
}

// auditPatterns finds how the sore places lie together. The rules, which common
// practice leaves open, are stated here: two or more spots, all on the border; two or
// more spots on the ridge crest, all left or all right; crests of both dentures sore
// left and right; three or more visits with spots and no place sore twice.
func auditPatterns(a *Audit) []AuditPattern {
	out := []AuditPattern{}
	add := func(id, arch string) {
		p, _ := habit.PatternOf(id)
		out = append(out, AuditPattern{id, arch, p.Sees, p.LookAt, p.Source})
	}
	places := sorePlaces(a)
	bothSides := 0
	for _, arch := range []string{"upper", "lower"} {
		own := slices.DeleteFunc(slices.Clone(places), func(s sorePlace) bool { return s.arch != arch })
		spots, border, crest, left, right, again := 0, 0, 0, 0, 0, false
		visits := map[int]bool{}
		for _, s := range own {
			n := len(s.visits)
			spots += n
			again = again || n > 1
			for _, v := range s.visits {
				visits[v] = true
			}
			if habit.Border(s.zone) {
				border += n
			}
			if habit.Crest(s.zone) {
				crest += n
				left += n * of(s.side == "left")
				right += n * of(s.side == "right")
			}
		}
		if spots >= 2 && border == spots {
			add(habit.BorderOnly, arch)
		}
		if crest >= 2 && (left == crest || right == crest) {
			add(habit.OneSide, arch)
		}
		if len(visits) >= 3 && !again {
			add(habit.MovingAbout, arch)
		}
		bothSides += of(left > 0 && right > 0)
	}
	if bothSides == 2 {
		add(habit.WholeRidge, "")
	}
	return out
}

func of(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// Ids of the questions to discuss.
const (
	AskReview   = "review"       // about a place: arch|zone|side
	AskRecord   = "not_recorded" // about a field that would have helped
	AskHabit    = "habit"        // about a habit
	AskMore     = "more"         // about an arch that needed more visits than like dentures
	AskFewer    = "fewer"        // about an arch that needed fewer
	AskAgain    = "again"        // about a place sore at more than one visit: arch|zone|side
	AskCause    = "cause"        // about an arch remade without a recorded cause
	AskSimilar  = "similar"      // what the nearest cases did otherwise
	AskNextTime = "next_time"    // what to keep and what to change
	mostHabits  = 4              // questions about habits, so that the list stays one for a meeting
)

// helpful are the fields whose absence is worth a question.
var helpful = []string{"freeway_mm", "vdr_mm", "lip_mm", "clearance_max_mm"}

// auditQuestions lists what to discuss: safety first, then what the records leave
// open, then what came of it.
func auditQuestions(a *Audit) []AuditQuestion {
	out := []AuditQuestion{}
	add := func(id, about string) {
		if q := (AuditQuestion{id, about}); !slices.Contains(out, q) {
			out = append(out, q)
		}
	}
	for _, l := range a.Lesions {
		add(AskReview, l.Arch+"|"+l.Zone+"|"+l.Side)
	}
	for _, v := range a.Values {
		if !v.Value.Known() && slices.Contains(helpful, v.Field) {
			add(AskRecord, v.Field)
		}
	}
	for _, h := range a.Habits[:min(mostHabits, len(a.Habits))] {
		add(AskHabit, h.Habit)
	}
	for _, x := range a.Expected {
		switch {
		case x.Outcome != Adjustments || x.Like.TooFew != "" || !x.Like.Value.Known():
		case Num(x.Observed) > x.Like.High:
			add(AskMore, x.Arch)
		case Num(x.Observed) < x.Like.Low:
			add(AskFewer, x.Arch)
		}
	}
	for _, s := range sorePlaces(a) {
		if len(s.visits) > 1 {
			add(AskAgain, s.arch+"|"+s.zone+"|"+s.side)
		}
	}
	for _, r := range a.Repairs {
		if r.Scope == "remake" && (r.Cause == "" || r.Cause == "unknown") {
			add(AskCause, r.Arch)
		}
	}
	if len(a.Similar) > 0 {
		add(AskSimilar, "")
	}
	add(AskNextTime, "")
	return out
}
