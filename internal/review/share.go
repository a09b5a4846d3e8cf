package review

// The share form of a review is what may leave the building. It is a type of its own:
// page, --json and tables are made from a Shared, so that nothing can reach them for
// which it has no place.
//
// Rule 1. A figure behind which stand 1 to 10 people is hidden, be it as all of its
// group, as those with the outcome or, for an outcome that counts once, as those
// without it (cell size suppression policy of the Centers for Medicare & Medicaid
// Services, version of 26 January 2024: no cell of 1 to 10 may be shown or be worked
// out; zero may be shown).
//
// Rule 2. With it goes at least one figure behind which more people stand on every
// count, so that taking the others from the total gives the sum of the hidden ones and
// each of them may still be anything from none to more than ten. Whom a group holds is
// hidden alike for every outcome. A table of which too little is left is left out.
//
// Rule 3. What is shown is no finer than counts rounded to tens: counts of dentures are
// so rounded, figures move on a grid that ten dentures or events make, and limits are
// worked out again from the rounded figure. So different cuts of the same dentures,
// taken from each other, tell no small group either. Findings, whose sides often are
// the dentures of a band of what was recorded, show a ratio and a size of one digit.
//
// Limits that remain: two share forms of the same service taken from each other, or one
// beside a page of the house, may tell more; so may knowing from elsewhere which groups
// cannot overlap. By clinician nothing is shown: clinicians stand within sites, and a
// hidden site could be worked out from its clinicians.

// SharedKind marks a file as the share form of a review.
const SharedKind = "shared findings"

// SharedSchema is the version of the share form's JSON. It rises whenever a field
// changes its meaning or goes away.
const SharedSchema = 1

// smallest is the fewest people that a figure may stand on, other than none.
const smallest = 11

// Shared is the share form of a review.
type Shared struct {
	Kind     string          `json:"kind"` // always SharedKind
	Schema   int             `json:"schema"`
	Version  string          `json:"version"`
	Basis    string          `json:"basis"`
	Invented bool            `json:"invented"`
	AsOf     string          `json:"as_of"`
	Coverage SharedCoverage  `json:"coverage"`
	Overall  []SharedValue   `json:"overall"`
	Groups   []SharedGroup   `json:"groups"`
	Findings []SharedFinding `json:"findings"`
	Hidden   []SharedHidden  `json:"hidden"`
	LeftOut  []SharedLeftOut `json:"left_out"`
}

// SharedCoverage says what the figures stand on. Dentures, patients and places are
// rounded to tens; days too.
type SharedCoverage struct {
	FirstYear      string        `json:"first_year"`
	LastYear       string        `json:"last_year"`
	Patients       int64         `json:"patients"`
	Delivered      int64         `json:"dentures_delivered"`
	Sites          int64         `json:"sites"`
	Clinicians     int64         `json:"clinicians"`
	MedianFollowUp int64         `json:"median_follow_up_days"`
	Attended       *SharedFigure `json:"attended_planned"` // null: not shown
	SorePlaces     *int64        `json:"sore_places"`      // that stayed sore without a recorded review; null: not shown
}

// SharedFigure is a figure on the grid of rule 3. N is dentures, rounded to tens.
type SharedFigure struct {
	Value  Num     `json:"value"`
	Low    Num     `json:"low"`
	High   Num     `json:"high"`
	Level  float64 `json:"level"`
	N      int64   `json:"n"`
	Unit   string  `json:"unit"`
	Method string  `json:"method"`
	Query  string  `json:"query"`
}

// SharedValue is one value of a dimension; Figure is nil where it is hidden. In Overall
// the code is "all".
type SharedValue struct {
	Outcome string        `json:"outcome"`
	Code    string        `json:"code"`
	Figure  *SharedFigure `json:"figure"`
}

// SharedGroup is one outcome by the values of one dimension: arch, site (under fresh
// codes), ridge_class, year, an exposure of Bands, or zone:upper and zone:lower.
type SharedGroup struct {
	Outcome   string        `json:"outcome"`
	Dimension string        `json:"dimension"`
	Values    []SharedValue `json:"values"`
}

// SharedFinding is a pair of habit and outcome: how sure it is, and the ratio within
// clinicians. Its N is dentures compared, cut down to one digit.
type SharedFinding struct {
	ID        string       `json:"id"`
	Habit     string       `json:"habit"`
	Outcome   string       `json:"outcome"`
	Days      int          `json:"days"`
	Direction string       `json:"direction"`
	Stated    bool         `json:"stated"`
	Grade     Grade        `json:"grade"`
	Ratio     SharedFigure `json:"ratio"`
}

// SharedHidden counts the figures that are hidden in a table.
type SharedHidden struct {
	Outcome   string `json:"outcome"`
	Dimension string `json:"dimension"`
	Figures   int    `json:"figures"`
	Of        int    `json:"of"`
}

// SharedLeftOut is something that a page of the house has and this one has not.
type SharedLeftOut struct {
	What string `json:"what"`
	Why  string `json:"why"`
}
