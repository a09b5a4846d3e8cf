package page

import "afterfit/internal/review"

// outcomeOrder is the order in which definitions stand.
var outcomeOrder = []string{review.Adjustments, review.SoreSpots, review.Ulcer, review.Remake, review.Reline, review.Display, review.Vertical, review.Minutes}

// glossary explains the words and sources that every pack uses.
var glossary = []definition{
	{"Interval", "The range of values that the data fits about as well as the figure itself, at the stated level. The fewer the dentures, the wider it is. Two figures whose intervals overlap widely may differ by chance alone."},
	{"n", "How many dentures, cases or rows stand behind a figure."},
	{"Per 100 dentures", "Events divided by dentures, times 100; one denture can have several."},
	{"Not adjusted", "No account is taken of how hard the cases were."},
	{"Habit", "A way of taking records that the data can show, such as copying a vertical dimension from a denture whose own was wrong."},
	{"Freeway space", "Vertical dimension at rest less vertical dimension in occlusion."},
	{"Ridge class", "Prosthodontic Diagnostic Index class for complete edentulism, I (least) to IV (most complex); McGarry 1999, J Prosthodont 8:27-39. Without the measurements a case has no class."},
	{"Remake", "A new base or new teeth for the same arch, not for loss or breakage."},
	{"Sources", "Proportions: Wilson 1927, J Am Stat Assoc 22:209. Rates: exact Poisson limits, Garwood 1936, Biometrika 28:437. Time to an event: Kaplan and Meier 1958, J Am Stat Assoc 53:457, limits on the log-log scale; with competing ends: Aalen and Johansen 1978, Scand J Stat 5:141. Lasting ulcers: NICE guideline NG12. Citations are from memory; the guideline comes before this page."},
}
