package review

// MixModel is a case-mix model of one outcome: events expected of a denture in the
// whole window = exp(Intercept + the coefficients of its levels). It holds patient and
// arch only, never a habit, a site or a clinician.
type MixModel struct {
	Outcome    string    `json:"outcome"`
	Days       int       `json:"days"` // window
	First      string    `json:"first_period"`
	Last       string    `json:"last_period"`
	N          int64     `json:"n"`
	Events     int64     `json:"events"`
	Intercept  Num       `json:"intercept"`
	Shrink     Num       `json:"pulled_in_by"` // factor on the coefficients of a plain fit, its cross-validated slope in [0,1]
	Terms      []MixTerm `json:"terms"`
	Dispersion Num       `json:"dispersion"` // variance over mean of patients' events, case mix fitted
}

// MixTerm is one characteristic with the coefficients of its levels.
type MixTerm struct {
	Name   string     `json:"name"`
	Levels []MixLevel `json:"levels"`
}

// MixLevel is one level. Coef is a log rate ratio to the reference, whose coefficient
// is 0. As names the level that it is counted as where it is too rare for a
// coefficient of its own: itself otherwise.
type MixLevel struct {
	Level  string `json:"level"`
	As     string `json:"as"`
	Coef   Num    `json:"coef"`
	N      int64  `json:"n"`
	Events int64  `json:"events"`
}

// Standard is a saved set of case-mix models, so that a later review is judged by an
// earlier one's expectation.
type Standard struct {
	Schema      int        `json:"schema"`
	Kind        string     `json:"kind"` // always StandardKind
	Version     string     `json:"version"`
	Fingerprint string     `json:"fingerprint"`
	AsOf        string     `json:"as_of"`
	Models      []MixModel `json:"models"`
}

// StandardKind marks a file as a saved standard.
const StandardKind = "case-mix standard"

// MixFit is a case-mix model with how well it predicts. For a model fitted on the
// store's own data the checks are cross-validated: each patient is predicted from a plain
// fit without the fifth of the patients that they belong to, before any pulling in.
type MixFit struct {
	Model       MixModel   `json:"model"`
	Saved       bool       `json:"saved"` // read from a file rather than fitted here
	Tenths      []MixTenth `json:"tenths"`
	Slope       Estimate   `json:"slope"`       // of log events on log expected; 1 is right, below 1: predictions too extreme
	Large       Estimate   `json:"in_large"`    // observed over expected in all
	Concordance Num        `json:"concordance"` // of two dentures with whole follow-up, how often the one with more events was expected to have more; ties half
	Notes       []string   `json:"notes"`       // what was left out, merged or unknown
	Warnings    []string   `json:"warnings"`
}

// MixTenth is a tenth of the dentures by expected events.
type MixTenth struct {
	Tenth    int      `json:"tenth"`
	Expected Num      `json:"expected"`
	Ratio    Estimate `json:"ratio"` // observed over expected
}

// UnitTable sets the units of one dimension beside what their case mix predicts.
type UnitTable struct {
	Outcome    string        `json:"outcome"`
	Dimension  string        `json:"dimension"` // site, clinician or lab
	Dispersion Num           `json:"dispersion"`
	Spread     Num           `json:"spread"`      // winsorised mean squared z between units, dispersion divided out; 1 = chance alone
	TrueSpread Num           `json:"true_spread"` // coefficient of variation of the true ratios
	Units      []UnitRatio   `json:"units"`
	Curve      []FunnelCurve `json:"funnel"`
	Query      string        `json:"query"`
}

// FunnelCurve are the funnel's limits for a ratio at one number of expected events.
type FunnelCurve struct {
	Expected Num `json:"expected"`
	NearLow  Num `json:"low_95"`
	NearHigh Num `json:"high_95"`
	FarLow   Num `json:"low_998"`
	FarHigh  Num `json:"high_998"`
}

// UnitRatio is one unit: observed over expected, shrunken, and where it lies in the
// funnel. Flag is 0 inside, +-1 outside the 95 % and +-2 outside the 99.8 % limits;
// FlagSpread is the same with the spread between units allowed for as well.
type UnitRatio struct {
	Code       string     `json:"code"`
	Patients   int64      `json:"patients"`
	Expected   Num        `json:"expected"`
	Ratio      Estimate   `json:"ratio"`
	Shrunk     Estimate   `json:"shrunk"`
	Z          Num        `json:"z"`
	Flag       int        `json:"flag"`
	FlagSpread int        `json:"flag_spread"`
	Checks     DataChecks `json:"checks"`
	Know       *Know      `json:"know,omitempty"` // clinicians only
}

// DataChecks are the first step of the order of thought: could the data alone explain
// the figure? Shares are in %, All is the same for the whole service.
type DataChecks struct {
	Complete Check `json:"complete"`    // key fields recorded
	Followed Check `json:"followed"`    // dentures followed for the whole window of adjustment visits
	Attended Check `json:"attended"`    // dentures with a planned visit in that window
	Twice    Check `json:"same_day"`    // dentures with two adjustment visits on one day, perhaps one entered twice
	OnFive   Check `json:"ends_0_or_5"` // verticals of occlusion on a multiple of 5 mm
}

// Check is a unit's share beside everybody's; Odd says that the two differ beyond
// chance (99 % Newcombe interval of the difference) and by 5 points or more, on the side
// that speaks against the data.
type Check struct {
	Own Estimate `json:"own"`
	All Num      `json:"all"`
	Odd bool     `json:"odd"`
}

// Know says how long until a stated difference would be known: the true ratio Ratio
// told from 1 with 80 % power at 5 %, at the pace of the last twelve months.
type Know struct {
	Outcome string   `json:"outcome"`
	Code    string   `json:"code"` // "" for the service: next period against this one
	Ratio   float64  `json:"ratio"`
	Need    int64    `json:"dentures_needed"`
	Have    int64    `json:"dentures"`
	Pace    Num      `json:"dentures_per_month"`
	Months  Num      `json:"months"` // from now; 0 when there are enough
	Notes   []string `json:"notes"`
}

// TimeChart is a control chart of one outcome by period of records, adjusted for case
// mix: Value is 100 times observed over expected times the service's mean per denture.
// Of a habit (Outcome is then "habit:" and its id) it is a chart of the share in %, not
// adjusted, in dentures or cases as the habit counts.
type TimeChart struct {
	Outcome     string      `json:"outcome"`
	Dimension   string      `json:"dimension"` // all or site
	Code        string      `json:"code"`
	Fineness    string      `json:"fineness"` // month, quarter or year
	Center      Num         `json:"center"`   // per 100 dentures
	Median      Num         `json:"median"`
	SigmaZ      Num         `json:"sigma_z"` // Laney's spread; limits use it where it is above 1
	Points      []TimePoint `json:"points"`
	LongestRun  int         `json:"longest_run"`
	RunAllowed  int         `json:"longest_run_allowed"`
	Crossings   int         `json:"crossings"`
	CrossNeeded int         `json:"crossings_needed"`
	FalseSignal Num         `json:"false_signal"` // chance that either runs rule signals though nothing changed
	Broken      []string    `json:"broken"`       // beyond_limits, shift, crossings
	Query       string      `json:"query"`
}

// TimePoint is one period. Immature periods have less than the set share of their
// events due: they are drawn apart and take no part in rules and limits.
type TimePoint struct {
	Period   string `json:"period"`
	N        int64  `json:"n"`
	Observed int64  `json:"observed"`
	Expected Num    `json:"expected"`
	Value    Num    `json:"value"`
	Low      Num    `json:"low"`
	High     Num    `json:"high"`
	Due      Num    `json:"due"` // share of the window's events due by now, in [0,1]
	Immature bool   `json:"immature"`
	Beyond   int    `json:"beyond"` // -1 below, 1 above the limits
}

// CusumChart adds up the evidence for a rate Ratio times the expected one, period by
// period; it starts again after a signal.
type CusumChart struct {
	Outcome   string       `json:"outcome"`
	Dimension string       `json:"dimension"`
	Code      string       `json:"code"`
	Ratio     float64      `json:"ratio"`
	Limit     Num          `json:"limit"`
	RunLength Num          `json:"run_length"` // mean periods between false alarms; null = practically never
	Fineness  string       `json:"fineness"`
	Points    []CusumPoint `json:"points"`
	Signals   []string     `json:"signals"` // periods
	TooFew    string       `json:"too_few,omitempty"`
	Query     string       `json:"query"`
}

// CusumPoint is the sum after one period.
type CusumPoint struct {
	Period   string `json:"period"`
	Value    Num    `json:"value"`
	Observed int64  `json:"observed"`
	Expected Num    `json:"expected"`
	Immature bool   `json:"immature"`
}

// Change is something that was changed on purpose, as the settings file states it.
type Change struct {
	Name  string   `toml:"name" json:"name"`
	What  string   `toml:"what" json:"what"`   // a habit's id, or free text
	Where []string `toml:"where" json:"where"` // site codes, or "all"
	From  string   `toml:"from" json:"from"`   // first period with the change: YYYY, YYYY-Qn or YYYY-MM
}

// ChangeResult is what became of a change.
type ChangeResult struct {
	Change    Change           `json:"change"`
	Controls  []string         `json:"controls"` // sites without the change
	Fineness  string           `json:"fineness"`
	Estimates []ChangeEstimate `json:"estimates"`
	Warnings  []string         `json:"warnings"`
}

// ChangeEstimate is one measure before and after. Ratio is the factor by which the
// measure moved where the change was made, over the factor elsewhere in the same
// periods; without other sites it is the step against the site's own straight course.
type ChangeEstimate struct {
	Measure  string         `json:"measure"` // outcome id, or habit:ID
	Places   [2]Estimate    `json:"places"`  // where changed, before and after
	Others   [2]Estimate    `json:"others"`
	Ratio    Estimate       `json:"ratio"`
	Placebos []Placebo      `json:"placebos"`
	Series   []ChangeSeries `json:"series"`
	Warnings []string       `json:"warnings"`
}

// Placebo is the same estimate at a date on which nothing was changed, from the
// periods before the change alone.
type Placebo struct {
	From  string   `json:"from"`
	Ratio Estimate `json:"ratio"`
}

// ChangeSeries is one side's course.
type ChangeSeries struct {
	Side   string      `json:"side"` // places or others
	Points []TimePoint `json:"points"`
}

// Since sets this review beside an earlier one's findings.
type Since struct {
	Fingerprint string     `json:"fingerprint"` // of the earlier review
	AsOf        string     `json:"as_of"`
	LastPeriod  string     `json:"last_period"`
	Rule        string     `json:"rule"`
	Figures     []Moved    `json:"figures"`
	Findings    []Moved    `json:"findings"`
	Units       []Moved    `json:"units"`
	Late        []LateData `json:"late"`
	NewCases    int64      `json:"new_cases"`
	NewDentures int64      `json:"new_dentures"`
}

// Moved is one figure then and now. Kind is moved, steady, unknown (too little new to
// tell), appeared, went, stronger or weaker.
type Moved struct {
	ID      string   `json:"id"`
	Outcome string   `json:"outcome"`
	Then    Estimate `json:"then"`
	Now     Estimate `json:"now"`
	Kind    string   `json:"kind"`
}

// LateData is what came in for periods that the earlier review already knew.
type LateData struct {
	Outcome  string `json:"outcome"`
	Dentures int64  `json:"dentures"`
	Events   int64  `json:"events"`
	Then     int64  `json:"events_then"`
}
