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

func pointers(arch string, zones []string) []Pointer {
	out := make([]Pointer, len(zones))
	for i, z := range zones {
		out[i] = Pointer{arch, z, text("pointer.*", arch+"_"+z), practice}
	}
	return out
}

var upperLook = ids("labial_sulcus", "labial_frenum", "buccal_frenum", "buccal_sulcus", "distobuccal", "tuberosity", "hamular_notch", "posterior_seal", "palate_midline", "palate_side", "incisive_papilla", "ridge_crest_front", "ridge_crest_back")

var lowerLook = ids("labial_sulcus", "buccal_sulcus", "labial_frenum", "buccal_frenum", "lingual_frenum", "buccal_shelf", "distobuccal", "retromolar_pad", "retromylohyoid", "mylohyoid_ridge", "lingual_sulcus", "lingual_sulcus_front", "ridge_crest_front", "ridge_crest_back", "mental_foramen", "genial", "torus")

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
	{BorderOnly, text("pattern.*.sees", BorderOnly), text("pattern.*.look_at", BorderOnly), practice},
	{OneSide, text("pattern.*.sees", OneSide), text("pattern.*.look_at", OneSide), practice},
	{WholeRidge, text("pattern.*.sees", WholeRidge), text("pattern.*.look_at", WholeRidge), practice},
	{MovingAbout, text("pattern.*.sees", MovingAbout), text("pattern.*.look_at", MovingAbout), practice},
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
