package review

// Dose is how an outcome goes with a measured quantity: a curve over millimetres among
// dentures of one clinician, in one arch, with about as much trouble to be expected from
// their case mix. It is association, never cause.
type Dose struct {
	ID        string `json:"id"`       // of the hypothesis
	Exposure  string `json:"exposure"` // the column of linked_dentures that holds the quantity, in mm
	Outcome   string `json:"outcome"`
	Days      int    `json:"days"`      // the outcome's window, from delivery
	Direction string `json:"direction"` // expected as the quantity grows: more, fewer or either
	Stated    bool   `json:"stated"`
	Control   bool   `json:"control"` // a negative control, which should show nothing

	Reference Num         `json:"reference"` // mm, the middle of the usual range
	Usual     [2]Num      `json:"usual"`     // mm
	Knots     []Num       `json:"knots"`     // of the curve, mm
	Curve     []DosePoint `json:"curve"`     // evenly spaced over the middle 98 % of the dentures, for the picture
	At        []DosePoint `json:"at"`        // at round values, with the dentures nearest to each
	Values    []DoseValue `json:"values"`    // every value recorded
	Slope     Estimate    `json:"slope"`     // ratio for each mm more along a straight line, as read
	Corrected Estimate    `json:"corrected"` // the same with the readings' own error taken out
	Reading   *Reading    `json:"reading,omitempty"`
	AsRead    string      `json:"as_read_because,omitempty"` // why there is no corrected slope
	Flat      Num         `json:"p_flat"`                    // P that the curve is level
	Q         Num         `json:"q"`                         // of Flat over all curves that are no controls
	Bent      Num         `json:"p_bent"`                    // P that it is straight
	N         int64       `json:"n"`                         // dentures compared
	Events    int64       `json:"events"`
	LeftOut   int64       `json:"left_out"`     // dentures whose clinician and arch have one value, or no event
	Missing   int64       `json:"not_recorded"` // dentures in which the quantity was not recorded
	Strata    int         `json:"strata"`
	Patients  int64       `json:"patients"`
	TooFew    string      `json:"too_few,omitempty"`
	More      int64       `json:"more_needed"`    // dentures still needed for a curve; 0 if none
	Adjusted  []string    `json:"adjusted"`       // columns that made a difference to expected trouble
	Asked     []string    `json:"adjustment_set"` // columns that the causal diagram asks for
	Level     float64     `json:"level"`
	Method    string      `json:"method"`
	Query     string      `json:"query"`
}

// DosePoint is the curve at one value: events per 100 dentures had all those compared
// had it, with limits of its difference from the reference, and the ratio to it.
type DosePoint struct {
	MM        Num   `json:"mm"`
	Rate      Num   `json:"rate"`
	Low       Num   `json:"low"`
	High      Num   `json:"high"`
	Ratio     Num   `json:"ratio"`
	RatioLow  Num   `json:"ratio_low"`
	RatioHigh Num   `json:"ratio_high"`
	N         int64 `json:"n,omitempty"`
	Events    int64 `json:"events,omitempty"`
}

// DoseValue counts the dentures in which one value was recorded, and their events.
type DoseValue struct {
	MM     Num   `json:"mm"`
	N      int64 `json:"n"`
	Events int64 `json:"events"`
}

// Reading says how well the quantity is read. Reliability is the share of its variance,
// among dentures alike in what the model holds alike, that is not reading error.
type Reading struct {
	Reliability Estimate `json:"reliability"` // share in [0,1]
	ErrorSD     Num      `json:"error_sd_mm"` // of a recorded value
	SpreadSD    Num      `json:"spread_sd_mm"`
	Takes       Num      `json:"takes"`   // readings behind a recorded value, on average
	Repeats     int64    `json:"repeats"` // readings beyond the first
}
