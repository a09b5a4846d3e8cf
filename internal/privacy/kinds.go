// Package privacy looks for what could identify a person in the columns of an
// export, before anything is stored. It knows the kinds of identifier that
// 45 CFR 164.514 lists, judges columns by their header and by every value, and
// measures how many cases stand alone on what is left. It never returns a value,
// only its shape. It is a help, not a ruling: local law and whoever is responsible
// for privacy decide.
package privacy

import "slices"

// Basis is the ground on which an export may be used, as its note states it.
type Basis string

// The bases that a note may state. Unstated is judged like SafeHarbor, except that
// a period in the contract's own column is only remarked on.
const (
	Unstated       Basis = ""
	SafeHarbor     Basis = "safe_harbor"      // 45 CFR 164.514(b)(2)
	LimitedDataSet Basis = "limited_data_set" // 45 CFR 164.514(e)
	ConsentedLocal Basis = "consented_local"  // house rule: what a limited data set may hold
)

// Known reports whether a note may state this basis; "" is no statement.
func (b Basis) Known() bool {
	return slices.Contains([]Basis{SafeHarbor, LimitedDataSet, ConsentedLocal}, b)
}

// Kind is a kind of identifier. Its text is what a note writes to clear a column.
type Kind string

// The kinds. The letters in brackets are those of 45 CFR 164.514(b)(2)(i).
const (
	Name           Kind = "name"            // (A)
	Address        Kind = "address"         // (B) street, house, post box
	Town           Kind = "town"            // (B)
	PostalCode     Kind = "postal_code"     // (B) beyond its first three digits
	Date           Kind = "date"            // (C) finer than a year
	Age            Kind = "age_over_89"     // (C)
	Telephone      Kind = "telephone"       // (D)
	Fax            Kind = "fax"             // (E)
	Email          Kind = "email"           // (F)
	NationalNumber Kind = "national_number" // (G) social security and its relatives
	MedicalRecord  Kind = "medical_record"  // (H)
	HealthPlan     Kind = "health_plan"     // (I)
	Account        Kind = "account"         // (J)
	Licence        Kind = "licence"         // (K)
	Vehicle        Kind = "vehicle"         // (L)
	DeviceSerial   Kind = "device_serial"   // (M)
	URL            Kind = "url"             // (N)
	IPAddress      Kind = "ip_address"      // (O)
	Biometric      Kind = "biometric"       // (P)
	Photo          Kind = "photo"           // (Q)
	Hash           Kind = "hash"            // (R) a code derived from the person
	ChartNumber    Kind = "chart_number"    // (H), (R) a key that counts like the practice's charts
	FreeText       Kind = "free_text"       // no kind of the rule, but any of them may stand in it
)

// about says what a kind is called in a message and what mends it.
type about struct {
	kind          Kind
	words, remedy string
}

const leaveOut = "leave the column out of the export"

var kinds = []about{
	{Name, "names of people", "leave the column out, or put a code in place of each name whose key stays with you"},
	{Address, "postal addresses", leaveOut},
	{Town, "places smaller than a state", leaveOut},
	{PostalCode, "postal codes", "keep at most the first three digits, and 000 where they cover 20,000 people or fewer"},
	{Date, "dates finer than a year", "write the year only; days are counted from the records (day 0)"},
	{Age, "ages over 89, or years of birth", "write age bands, the last of them 90+"},
	{Telephone, "telephone numbers", leaveOut},
	{Fax, "fax numbers", leaveOut},
	{Email, "e-mail addresses", leaveOut},
	{NationalNumber, "social security, health service or other national numbers", leaveOut},
	{MedicalRecord, "medical record or chart numbers", "put a random code in place of each number, whose key stays with you"},
	{HealthPlan, "numbers of health plan members", leaveOut},
	{Account, "account or card numbers", leaveOut},
	{Licence, "numbers of licences, passports or certificates", leaveOut},
	{Vehicle, "vehicle plates or numbers", leaveOut},
	{DeviceSerial, "serial numbers of devices", "leave the column out; the model is enough"},
	{URL, "web addresses", leaveOut},
	{IPAddress, "network addresses", leaveOut},
	{Biometric, "biometric data", leaveOut},
	{Photo, "pictures, which may show a face", leaveOut},
	{Hash, "bare hashes, which can be turned back by trying all inputs", "put random codes in their place, whose key stays with you"},
	{ChartNumber, "keys that count like the practice's own chart numbers", "put a random code in place of each number, whose key stays with you"},
	{FreeText, "long free text", "leave the column out, or turn it into codes"},
}

// Kinds lists every kind in the order of the rule.
func Kinds() []Kind {
	list := make([]Kind, len(kinds))
	for i, k := range kinds {
		list[i] = k.kind
	}
	return list
}

func (k Kind) about() about {
	if i := slices.IndexFunc(kinds, func(a about) bool { return a.kind == k }); i >= 0 {
		return kinds[i]
	}
	return about{k, string(k), leaveOut}
}

// Words names the kind for a message.
func (k Kind) Words() string { return k.about().words }

// Remedy says what to do about the kind.
func (k Kind) Remedy() string { return k.about().remedy }

// level is what a finding of a kind does under a basis.
type level int

const (
	allowed level = iota
	remark        // said, but no reason to refuse
	stop
)

// under gives the level of a kind. A limited data set may hold dates, ages, town,
// state and postal code (164.514(e)(2)); codes derived from the person are not on
// its list of what must go, so a hash is remarked on.
func under(b Basis, k Kind) level {
	if b == SafeHarbor || !b.Known() {
		return stop
	}
	switch k {
	case Date, Age, Town, PostalCode:
		return allowed
	case Hash:
		return remark
	}
	return stop
}
