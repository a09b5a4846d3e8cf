package review

// Summary is one clinician's private page as data. Colleagues appear only as
// unlabelled values.
type Summary struct {
	Schema      int          `json:"schema"`
	Version     string       `json:"version"`
	Fingerprint string       `json:"fingerprint"`
	Basis       string       `json:"basis"`
	Invented    bool         `json:"invented"`
	AsOf        string       `json:"as_of"`
	Clinician   string       `json:"clinician"`
	Coverage    Coverage     `json:"coverage"` // the reader's own cases
	Figures     []OwnFigure  `json:"figures"`
	Habits      []OwnHabit   `json:"habits"`
	Same        []SameValue  `json:"same_values"` // the reader's own
	Strengths   []Strength   `json:"strengths"`
	Try         []Try        `json:"try"`   // at most three
	Trend       []GroupValue `json:"trend"` // adjustment visits by quarter of records
	Open        []OpenCase   `json:"open_cases"`
	Lesions     []Lesion     `json:"lesions"`
	Beside      []OwnBeside  `json:"beside"` // own ratios to what the cases predict
	Notes       []string     `json:"notes"`
}

// OwnFigure sets one outcome beside all colleagues' together.
type OwnFigure struct {
	Outcome    string   `json:"outcome"`
	Own        Estimate `json:"own"`
	Colleagues Estimate `json:"colleagues"`
	Peers      []Num    `json:"peers"` // each colleague's value, ascending, unlabelled
}

// OwnHabit sets the share (%) with one habit beside all colleagues' together.
type OwnHabit struct {
	Habit      string   `json:"habit"`
	Own        Estimate `json:"own"`
	Colleagues Estimate `json:"colleagues"`
	Peers      []Num    `json:"peers"`
	// Shrunk is Own drawn towards all, the more so the fewer cases stand behind it; nil
	// where clinicians cannot be compared.
	Shrunk *Estimate `json:"shrunk,omitempty"`
}

// Strength is a habit that the reader shows clearly less often than colleagues,
// or an outcome clearly lower: Kind is "habit" or "outcome", ID names it.
type Strength struct {
	Kind       string   `json:"kind"`
	ID         string   `json:"id"`
	Own        Estimate `json:"own"`
	Colleagues Estimate `json:"colleagues"`
}

// Try is a thing worth trying: a habit of the reader's own that goes with trouble
// in this service, with some of the reader's cases to look at.
type Try struct {
	Habit      string   `json:"habit"`
	Own        Estimate `json:"own"`
	Colleagues Estimate `json:"colleagues"`
	Pair       Pair     `json:"pair"`
	Cases      []string `json:"cases"` // at most five case ids
}
