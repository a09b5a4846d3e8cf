package habit

import "slices"

// Group gathers nodes of the diagram that are drawn as one box. Stage orders the boxes:
// what is there before the records, what was recorded, what is made from it, what is
// noticed, and what is done about it.
type Group struct {
	ID, Title string
	Stage     int
	Members   []string // in the order in which they are listed
}

// Stages of a group.
const (
	Before = iota
	Recorded
	Made
	Noticed
	Done
)

// Groups are the boxes in which the diagram is drawn; every node stands in one.
var Groups = []Group{
	{"patient", text("cause_group.*", "patient"), Before, ids("age", "sex", "frailty", "ridge", "prior", "course", "arch")},
	{"people", text("cause_group.*", "people"), Before, ids("site", "clinician", "operator", "lab", "period")},
	{"tray", text("cause_group.*", "tray"), Recorded, ids("clearance_record", "technique", "sized_by", "tries", "clearance", "touches", "seating", "palate", "discomfort")},
	{"vertical", text("cause_group.*", "vertical"), Recorded, ids("vertical_basis", "rest_state", "rest_record", "repeats", "repeat_spread", "whole_fives", "sums", "vertical", "freeway")},
	{"centric", text("cause_group.*", "centric"), Recorded, ids("centric_method", "centric_takes", "delay", "remount")},
	{"looks", text("cause_group.*", "looks"), Recorded, ids("lip_record", "display")},
	{"made", text("cause_group.*", "made"), Made, ids("fit", "reading_error", "real_freeway", "bite")},
	{"noticed", text("cause_group.*", "noticed"), Noticed, ids("early_sore_spots", "any_ulcer", "vertical_complaint", "display_complaint")},
	{"done", text("cause_group.*", "done"), Done, ids("adjustment_visits", "reline", "remake")},
}

// GroupOf is the id of the group that a node stands in, "" if none.
func GroupOf(node string) string {
	for _, g := range Groups {
		if slices.Contains(g.Members, node) {
			return g.ID
		}
	}
	return ""
}

// GroupArrows are the arrows between groups, in the order of the groups: one for every two
// groups that at least one arrow of the diagram joins, with how many it stands for.
func (d Diagram) GroupArrows() []GroupArrow {
	count := map[[2]string]int{}
	for _, e := range d.Edges {
		count[[2]string{GroupOf(e.From), GroupOf(e.To)}]++
	}
	var out []GroupArrow
	for _, from := range Groups {
		for _, to := range Groups {
			if n := count[[2]string{from.ID, to.ID}]; n > 0 && from.ID != to.ID {
				out = append(out, GroupArrow{from.ID, to.ID, n})
			}
		}
	}
	return out
}

// GroupArrow stands for the N arrows from members of one group to those of another.
type GroupArrow struct {
	From, To string
	N        int
}

// Reason is a reason that several arrows share: one from each of From to each of To.
type Reason struct {
	Why      string
	From, To []string
}

// Reasons lists every arrow once, gathered by reason, in the order of the edges.
func (d Diagram) Reasons() []Reason {
	var order []string
	ends := map[string][]Edge{}
	for _, e := range d.Edges {
		if ends[e.Why] == nil {
			order = append(order, e.Why)
		}
		ends[e.Why] = append(ends[e.Why], e)
	}
	var out []Reason
	for _, why := range order {
		out = append(out, products(why, ends[why])...)
	}
	return out
}

// products gathers edges of one reason: nodes that lead to the same others share a line.
func products(why string, edges []Edge) []Reason {
	var from []string
	to := map[string][]string{}
	for _, e := range edges {
		if to[e.From] == nil {
			from = append(from, e.From)
		}
		to[e.From] = append(to[e.From], e.To)
	}
	var out []Reason
	for _, f := range from {
		at := slices.IndexFunc(out, func(r Reason) bool { return slices.Equal(r.To, to[f]) })
		if at < 0 {
			out = append(out, Reason{why, []string{f}, to[f]})
			continue
		}
		out[at].From = append(out[at].From, f)
	}
	return out
}
