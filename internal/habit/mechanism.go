package habit

import "slices"

// Pointer says what soreness in a zone makes one look at first. It is "look here
// first", never a diagnosis.
type Pointer struct {
	Arch, Zone string // codes of the contract
	LookAt     string // the end of a sentence that begins with "Look first at: "
	Source     string
}

// PointerFor returns the pointer of a zone, false where the table has none.
func PointerFor(arch, zone string) (Pointer, bool) {
	i := slices.IndexFunc(Pointers, func(p Pointer) bool { return p.Arch == arch && p.Zone == zone })
	if i < 0 {
		return Pointer{}, false
	}
	return Pointers[i], true
}

// Pointers is the table of zones, upper first.
var Pointers = slices.Concat(pointers("upper", upperLook), pointers("lower", lowerLook))

func pointers(arch string, look [][2]string) []Pointer {
	out := make([]Pointer, len(look))
	for i, l := range look {
		out[i] = Pointer{arch, l[0], l[1], practice}
	}
	return out
}

var upperLook = [][2]string{
	{"labial_sulcus", "a flange that is too long or too thick, or a sharp edge"},
	{"labial_frenum", "a notch that is too shallow or too narrow"},
	{"buccal_frenum", "a notch that is too shallow or too narrow"},
	{"buccal_sulcus", "an over-long flange, or an undercut over the canine eminence"},
	{"distobuccal", "a border that is too thick or too long and meets the coronoid process on opening"},
	{"tuberosity", "an undercut, a thick flange, or contact with the lower heel"},
	{"hamular_notch", "a base that is too long, a sharp edge, or a post-dam that is too deep"},
	{"posterior_seal", "a post-dam that is too deep or a base that is too long; ask about gagging"},
	{"palate_midline", "missing relief: the base may rock over a hard midline"},
	{"palate_side", "a pressure spot, or a change in processing"},
	{"incisive_papilla", "missing relief, or heavy contacts in front"},
	{"ridge_crest_front", "a bite error, a rough fitting surface, or heavy contacts in front"},
	{"ridge_crest_back", "a bite error, or a rough fitting surface"},
}

var lowerLook = [][2]string{
	{"labial_sulcus", "an over-long flange"},
	{"buccal_sulcus", "an over-long flange"},
	{"labial_frenum", "the notch"},
	{"buccal_frenum", "the notch"},
	{"lingual_frenum", "the notch"},
	{"buccal_shelf", "a heavy bite on that side, a poor fit, or a vertical that is too high"},
	{"distobuccal", "a border that is too long or too wide; ask whether clenching hurts"},
	{"retromolar_pad", "a base that is too short or too long, or contact of the heels"},
	{"retromylohyoid", "a flange that is too long; ask about a sore throat and pain on swallowing"},
	{"mylohyoid_ridge", "a sharp ridge, an undercut, or a bite that slides forward"},
	{"lingual_sulcus", "a flange that is too deep or too thick, or a denture that moves forward"},
	{"lingual_sulcus_front", "a flange that is too deep or too thick, or a denture that moves forward"},
	{"ridge_crest_front", "a knife-edged ridge, a bite error, or a vertical that is too high"},
	{"ridge_crest_back", "a bite error, or a vertical that is too high"},
	{"mental_foramen", "missing relief over a resorbed ridge; a numb lip must be asked about"},
	{"genial", "missing relief over a resorbed ridge"},
	{"torus", "missing relief over a resorbed ridge"},
}

// Ids of the patterns.
const (
	BorderOnly  = "border_only"
	OneSide     = "one_side"
	WholeRidge  = "whole_ridge"
	MovingAbout = "moving_about"
)

// Pattern is a pointer from how the sore places of a case lie together.
type Pattern struct {
	ID     string
	Sees   string // what the records show, a sentence
	LookAt string
	Source string
}

// Patterns is the table of patterns. Rules on places and visits find them, which
// internal/review states beside its code.
var Patterns = []Pattern{
	{BorderOnly, "Every recorded spot lies on the border.", "borders that reach too far", practice},
	{OneSide, "The ridge crest is sore on one side only.", "a bite error on that side", practice},
	{WholeRidge, "The ridge crests of both dentures are sore on both sides.", "too little freeway space; ask whether it gets worse through the day", practice},
	{MovingAbout, "The soreness moves from visit to visit.", "an unstable denture or the bite, rather than more trimming", practice},
}

// PatternOf returns the pattern of that id.
func PatternOf(id string) (Pattern, bool) {
	i := slices.IndexFunc(Patterns, func(p Pattern) bool { return p.ID == id })
	if i < 0 {
		return Pattern{}, false
	}
	return Patterns[i], true
}

// Border tells whether a zone lies on the denture's border.
func Border(zone string) bool {
	return slices.Contains([]string{"labial_sulcus", "labial_frenum", "buccal_frenum", "buccal_sulcus", "distobuccal", "hamular_notch", "posterior_seal",
		"retromylohyoid", "lingual_sulcus", "lingual_sulcus_front", "lingual_frenum"}, zone)
}

// Crest tells whether a zone lies on the ridge crest.
func Crest(zone string) bool { return zone == "ridge_crest_front" || zone == "ridge_crest_back" }
