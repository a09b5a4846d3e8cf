package review

import "fmt"

// Settings are the windows and thresholds of a review. Each has its default and
// source here and nowhere else. "Practice" marks common practice without a source.
// A value that a page's words state (a window in a definition, a limit in the name of
// a habit) cannot be set from a file, or the words would no longer be true.
type Settings struct {
	Level             float64 `toml:"level"`              // of intervals, in (0,1); convention: 0.95
	AdjustmentDays    int     `toml:"-"`                  // window of adjustment visits and chair time, days; 90
	SoreDays          int     `toml:"-"`                  // window of early sore spots and ulcers, days; 30
	ComplaintDays     int     `toml:"-"`                  // window of display and vertical complaints, days; 180
	RemakeDays        int     `toml:"-"`                  // window of remakes and relines, days; 365
	FreewayLowMM      float64 `toml:"-"`                  // practice: subtract 1 to 5 mm from rest
	FreewayHighMM     float64 `toml:"-"`                  // practice, as above
	ClearanceLowMM    float64 `toml:"-"`                  // practice: an even 1 to 2 mm
	ClearanceHighMM   float64 `toml:"-"`                  // practice, as above
	ClearanceUnevenMM float64 `toml:"-"`                  // practice: 1 mm between least and most
	AddsUpMM          float64 `toml:"adds_up_mm"`         // 0.5: rounding of two readings to half a millimetre
	PalateBulkMM      float64 `toml:"palate_bulk_mm"`     // house value without a source: 4
	DisplayFarMM      float64 `toml:"-"`                  // house value: 2, about one SD of published display
	RepeatsApartMM    float64 `toml:"-"`                  // practice: repeat until two or three agree within 1 mm
	ReadingSDMM       float64 `toml:"reading_sd_mm"`      // of one reading of rest or occlusion; working figure without local data: 0.7 of 0.5 to 1.0
	SameShare         float64 `toml:"-"`                  // share in [0,1] that counts as "nearly every case"; house value: 0.8
	LateDeliveryDays  int     `toml:"late_delivery_days"` // house value: 60
	MinDentures       int64   `toml:"min_dentures"`       // fewer are too few to tell; house value: 10
	MinRemakes        int64   `toml:"min_remakes"`        // fewer events in a group are too few to compare; 5
	ManyVisits        int     `toml:"many_visits"`        // adjustment visits in the window worth opening a case for; 5
	LookDays          int     `toml:"-"`                  // practice: look again 7 to 14 days after easing
	CheckDays         int     `toml:"-"`                  // NICE NG12: ulceration for more than 3 weeks
	OpenCases         int     `toml:"open_cases"`         // how many cases a pack lists at the most; 30
	MinExpected       float64 `toml:"min_expected"`       // expected events, once patients' scatter is divided out, below which a unit is not compared; house value: 5
	MatureShare       float64 `toml:"mature_share"`       // a period whose events are due by less than this share is drawn as immature; house value: 0.9
	CusumRatio        float64 `toml:"cusum_ratio"`        // rate over expected that a CUSUM watches for, above 1; house value: 1.5
	FalseAlarmYears   int     `toml:"false_alarm_years"`  // mean years between false alarms of one CUSUM; house value: 30
	DetectRatio       float64 `toml:"detect_ratio"`       // difference that "how long until we would know" speaks of; house value: 1.25, a quarter more

	Standard *Standard `toml:"-" json:"-"` // saved case-mix models to judge by; nil: fit them here
	Changes  []Change  `toml:"-" json:"-"` // what was changed on purpose
}

// DefaultSettings returns the defaults that Settings documents.
func DefaultSettings() Settings {
	return Settings{Level: 0.95, AdjustmentDays: 90, SoreDays: 30, ComplaintDays: 180, RemakeDays: 365,
		FreewayLowMM: 1, FreewayHighMM: 5, ClearanceLowMM: 1, ClearanceHighMM: 2, ClearanceUnevenMM: 1, AddsUpMM: 0.5,
		PalateBulkMM: 4, DisplayFarMM: 2, RepeatsApartMM: 1, ReadingSDMM: 0.7, SameShare: 0.8, LateDeliveryDays: 60, MinDentures: 10, MinRemakes: 5, ManyVisits: 5,
		LookDays: 14, CheckDays: 21, OpenCases: 30, MinExpected: 5, MatureShare: 0.9, CusumRatio: 1.5, FalseAlarmYears: 30, DetectRatio: 1.25}
}

// Check returns an error that names the first setting outside its range.
func (s Settings) Check() error {
	if !(s.Level > 0.5 && s.Level < 1) {
		return fmt.Errorf("setting level is %g: give a number between 0.5 and 1, e.g. 0.95", s.Level)
	}
	for _, w := range []struct {
		name string
		days int
	}{{"adjustment_days", s.AdjustmentDays}, {"sore_days", s.SoreDays}, {"complaint_days", s.ComplaintDays}, {"remake_days", s.RemakeDays},
		{"late_delivery_days", s.LateDeliveryDays}, {"look_days", s.LookDays}, {"check_days", s.CheckDays}, {"many_visits", s.ManyVisits}, {"open_cases", s.OpenCases}} {
		if w.days < 1 || w.days > 3650 {
			return fmt.Errorf("setting %s is %d: give a whole number from 1 to 3650", w.name, w.days)
		}
	}
	for _, r := range []struct {
		name             string
		value, low, high float64
	}{{"reading_sd_mm", s.ReadingSDMM, 0.05, 5}, {"min_expected", s.MinExpected, 1, 1000}, {"mature_share", s.MatureShare, 0.1, 1}, {"cusum_ratio", s.CusumRatio, 1.1, 10},
		{"false_alarm_years", float64(s.FalseAlarmYears), 1, 100}, {"detect_ratio", s.DetectRatio, 1.01, 10}} {
		if !(r.value >= r.low && r.value <= r.high) {
			return fmt.Errorf("setting %s is %g: give a number from %g to %g", r.name, r.value, r.low, r.high)
		}
	}
	if s.CheckDays < s.LookDays {
		return fmt.Errorf("setting check_days is %d, below look_days %d", s.CheckDays, s.LookDays)
	}
	for _, r := range []struct {
		name      string
		low, high float64
	}{{"freeway", s.FreewayLowMM, s.FreewayHighMM}, {"clearance", s.ClearanceLowMM, s.ClearanceHighMM}} {
		if !(r.low < r.high) {
			return fmt.Errorf("settings %s_low_mm and %s_high_mm are %g and %g: the first must be the lower", r.name, r.name, r.low, r.high)
		}
	}
	return nil
}
