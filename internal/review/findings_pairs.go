package review

// Grade says how sure a pair of habit and outcome is. The rules stand in pair_grade.go.
type Grade string

// The grades, surest first.
const (
	Clear   Grade = "clear"
	Likely  Grade = "likely"
	Unclear Grade = "unclear"
	NoSign  Grade = "no_sign"
	TooFew  Grade = "too_few"
)

// Pair is the answer for one hypothesis: do dentures made with a habit have more of an
// outcome than like dentures made without it? It is association, never cause.
type Pair struct {
	ID        string `json:"id"`    // of the hypothesis
	Habit     string `json:"habit"` // id in the habit catalogue
	Outcome   string `json:"outcome"`
	Days      int    `json:"days"`      // the outcome's window, from delivery
	Direction string `json:"direction"` // what was expected: more, fewer or either
	Stated    bool   `json:"stated"`    // in advance; otherwise exploratory
	Control   bool   `json:"control"`   // a negative control, which should show nothing
	Grade     Grade  `json:"grade"`
	// Held names the rules that kept the pair from a surer grade.
	Held []string `json:"held"`

	Within   Comparison   `json:"within"`   // same clinician, same arch, like expected trouble; what the grade is from
	CaseMix  Comparison   `json:"case_mix"` // adjusted for case mix alone
	Crude    Comparison   `json:"crude"`    // standardised over arch alone
	Arches   []GroupValue `json:"arches"`   // ratio within clinicians, by arch
	Between  Estimate     `json:"between"`  // ratio of a clinician who always has the habit to one who never does
	Hands    Estimate     `json:"hands"`    // the ratio within clinicians with limits that let clinicians differ
	P        Num          `json:"p"`        // of the ratio within clinicians
	Q        Num          `json:"q"`        // over the whole family; NaN for controls
	EValue   Num          `json:"e_value"`
	ELimit   Num          `json:"e_value_limit"`
	Saved    Saving       `json:"saved"`
	Missing  Estimate     `json:"not_recorded"` // events per 100 dentures in which the habit cannot be assessed
	Bounds   [2]Num       `json:"bounds"`       // the crude ratio if those dentures fell as badly, or as well, as they can
	More     int64        `json:"more_needed"`  // dentures with the habit still needed to see Seen; 0 if none
	Seen     Num          `json:"ratio_to_see"`
	Adjusted []string     `json:"adjusted"`        // columns that made a difference to expected trouble
	Asked    []string     `json:"adjustment_set"`  // columns that the causal diagram asks for
	Plain    *Association `json:"plain,omitempty"` // the unadjusted difference from the curves of time, where made
}

// Comparison sets dentures with a habit beside those without it that are alike in what
// the comparison holds fast. With is what was seen, Without what like dentures without
// the habit had, both per 100 dentures followed to the end of the window.
type Comparison struct {
	Ratio      Estimate `json:"ratio"`
	With       Estimate `json:"with"`
	Without    Estimate `json:"without"`
	Difference Estimate `json:"difference"`
	Strata     int      `json:"strata"`   // compared
	LeftOut    int64    `json:"left_out"` // dentures in strata that lack a side
}

// Saving is what a change might save if the habit stopped and the difference were its
// doing.
type Saving struct {
	PerYear Estimate `json:"per_year"` // events at this service; n is dentures with the habit in a year
	Minutes Estimate `json:"minutes"`  // of chair time in a year, for adjustment visits
}
