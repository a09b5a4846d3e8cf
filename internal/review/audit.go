package review

// Audit is one case laid open for learning: what was recorded, what came after, and
// what like cases needed. It names nobody: beside the case's pseudonym there is no
// patient, clinician, clinic, laboratory or calendar date in it.
type Audit struct {
	Schema      int             `json:"schema"`
	Version     string          `json:"version"`
	Fingerprint string          `json:"fingerprint"`
	Basis       string          `json:"basis"`
	Invented    bool            `json:"invented"`
	AsOf        string          `json:"as_of"`
	Case        AuditCase       `json:"case"`
	Rule        string          `json:"rule"`  // id of the rule that picked the case, "named" for one asked for by id
	Place       int             `json:"place"` // among those that the rule picked, from 1; 0 for a named case
	Dentures    []AuditDenture  `json:"dentures"`
	Visits      []AuditVisit    `json:"visits"`
	Repairs     []AuditRepair   `json:"repairs"`
	Values      []AuditValue    `json:"values"`
	Entries     []AuditEntry    `json:"entries"`
	Habits      []AuditHabit    `json:"habits"`
	Expected    []AuditExpected `json:"expected"`
	Pointers    []AuditPointer  `json:"pointers"`
	Patterns    []AuditPattern  `json:"patterns"`
	Lesions     []Lesion        `json:"lesions"`
	Similar     []SimilarCase   `json:"similar"`
	Questions   []AuditQuestion `json:"questions"`
}

// AuditCase is what was known of the case before delivery. Codes are those of the
// contract, "" where not recorded; RidgeClass is 0 where not recorded.
type AuditCase struct {
	ID            string `json:"case_id"`
	AgeBand       string `json:"age_band"`
	Sex           string `json:"sex"`
	RidgeClass    int64  `json:"ridge_class"`
	Prior         string `json:"prior_denture"`
	Course        string `json:"course"`
	Operator      string `json:"operator"`
	ObservedTo    int64  `json:"observed_to_day"` // days from records, as every day here
	ObservedEnd   string `json:"observed_end"`
	SuggestedByMM Num    `json:"display_suggested_mm"` // by the lip length; null where it suggests none
}

// AuditDenture is one denture of the case. The days are nil where it was not
// delivered, or not observed after.
type AuditDenture struct {
	Arch      string `json:"arch"`
	Delivered *int64 `json:"delivered_day"`
	End       *int64 `json:"end_day"` // of its follow-up
	EndReason string `json:"end_reason"`
	RiskDays  int64  `json:"risk_days"`
	Visits    int64  `json:"adjustment_visits"` // days 0-90
	Spots     int64  `json:"early_sore_spots"`  // days 0-30
	Minutes   int64  `json:"chair_minutes"`     // days 0-90
}

// AuditVisit is a visit with the spots seen at it. Number counts the visits of the
// case from 1. Minutes is nil where not recorded.
type AuditVisit struct {
	Number       int         `json:"number"`
	Day          int64       `json:"day"`
	Arch         string      `json:"arch"` // "" not recorded
	Reason       string      `json:"reason"`
	Adjusted     bool        `json:"adjusted"`
	Minutes      *int64      `json:"minutes"`
	Complaints   string      `json:"complaints"` // codes joined by bars
	LesionReview string      `json:"lesion_review"`
	Spots        []AuditSpot `json:"spots"`
	key          string      // the visit's pseudonym, which no page shows
}

// AuditSpot is a sore spot; Grade is 0 where not recorded.
type AuditSpot struct {
	Arch  string `json:"arch"`
	Zone  string `json:"zone"`
	Side  string `json:"side"`
	Grade int64  `json:"grade"`
}

// AuditRepair is a remake, reline, rebase or reset; Cause is "" where not recorded.
type AuditRepair struct {
	Arch  string `json:"arch"`
	Day   int64  `json:"day"`
	Scope string `json:"scope"`
	Cause string `json:"cause"`
}

// AuditValue is a recorded length or count beside what is usual and what the house
// records. UsualLow and UsualHigh are null where no value is published or common
// practice; Usual says where they come from.
type AuditValue struct {
	Arch      string `json:"arch"` // "" for the case as a whole
	Field     string `json:"field"`
	Value     Num    `json:"value"` // null where not recorded
	UsualLow  Num    `json:"usual_low"`
	UsualHigh Num    `json:"usual_high"`
	Usual     string `json:"usual_source"`
	P5        Num    `json:"house_p5"`
	P50       Num    `json:"house_p50"`
	P95       Num    `json:"house_p95"`
	N         int64  `json:"house_n"`
	Query     string `json:"query"`
}

// OutsideUsual reports whether the value lies outside a usual range that there is.
func (v AuditValue) OutsideUsual() bool {
	return v.Value.Known() && v.UsualLow.Known() && v.UsualHigh.Known() && (v.Value < v.UsualLow || v.Value > v.UsualHigh)
}

// OutsideHouse reports whether the value lies outside the middle nine tenths of the house's own.
func (v AuditValue) OutsideHouse() bool {
	return v.Value.Known() && (v.Value < v.P5 || v.Value > v.P95)
}

// AuditEntry is a recorded choice with the share of the house that recorded the same.
type AuditEntry struct {
	Arch  string   `json:"arch"`
	Field string   `json:"field"`
	Code  string   `json:"code"`
	Same  Estimate `json:"same"`
}

// AuditHabit is a habit that the case shows, in these arches.
type AuditHabit struct {
	Habit  string   `json:"habit"`
	Arches []string `json:"arches"`
}

// AuditExpected sets what one denture needed beside what dentures like it needed.
// Like is the mean of like dentures of other patients over the time that this one was
// followed, up to the window; AsMany is the share of those followed as long that
// needed as many or more. Level says what they share beside the arch: ridge_prior,
// ridge or arch.
type AuditExpected struct {
	Arch     string   `json:"arch"`
	Outcome  string   `json:"outcome"`
	Observed int64    `json:"observed"`
	Days     int64    `json:"days"`
	Level    string   `json:"level"`
	Like     Estimate `json:"like"`
	AsMany   Estimate `json:"as_many"`
}

// AuditPointer is a zone that was sore, with what common practice looks at first.
type AuditPointer struct {
	Arch   string   `json:"arch"`
	Zone   string   `json:"zone"`
	Sides  []string `json:"sides"`
	Visits []int    `json:"visits"` // numbers of the visits at which it was sore
	LookAt string   `json:"look_at"`
	Source string   `json:"source"`
}

// AuditPattern is how the sore places lie together. Arch is "" for both.
type AuditPattern struct {
	ID     string `json:"id"`
	Arch   string `json:"arch"`
	Sees   string `json:"sees"`
	LookAt string `json:"look_at"`
	Source string `json:"source"`
}

// SimilarCase is a near case of another patient with its outcome. The distances are
// those by which it was found, in their order; -1 means that only one of the two
// cases has the value.
type SimilarCase struct {
	ID           string `json:"case_id"`
	RidgeFar     int64  `json:"ridge_classes_apart"`
	PriorFar     int64  `json:"prior_denture_differs"` // 0 or 1
	AgeFar       int64  `json:"age_bands_apart"`
	SexFar       int64  `json:"sex_differs"` // 0 or 1
	FreewayFar   int64  `json:"freeway_half_mm_apart"`
	ClearanceFar int64  `json:"clearance_half_mm_apart"`
	Followed     int64  `json:"followed_days"` // of the denture followed for the shortest time
	Visits       int64  `json:"adjustment_visits"`
	Spots        int64  `json:"early_sore_spots"`
	Remade       string `json:"remade"`  // arches joined by a bar
	Relined      string `json:"relined"` // likewise, rebased too
}

// AuditQuestion is something to discuss: the id of a sentence in the pages' catalogue
// and what it speaks of.
type AuditQuestion struct {
	ID    string `json:"id"`
	About string `json:"about"`
}
