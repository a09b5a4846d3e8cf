package habit

import "slices"

// because draws arrows that share one reason.
func because(why string, from, to []string) []Edge {
	var out []Edge
	for _, f := range from {
		for _, t := range to {
			out = append(out, Edge{f, t, why})
		}
	}
	return out
}

func ids(list ...string) []string { return list }

// chosen are the parts of the records that a person decides or leaves out.
var chosen = ids("clearance_record", "technique", "sized_by", "tries", "clearance", "touches", "seating", "palate", "discomfort",
	"vertical_basis", "rest_state", "rest_record", "repeats", "repeat_spread", "whole_fives", "sums", "vertical", "freeway",
	"lip_record", "display", "centric_method", "centric_takes", "delay", "remount")

var edges = slices.Concat(people, patient, trayEdges, verticalEdges, laterEdges)

var people = slices.Concat(
	because("Each person has their own way of taking records, whoever the patient is.", ids("clinician"), chosen),
	because("With training and practice people take records in another way.", ids("operator"), chosen),
	because("Teaching, trays and house rules change from year to year.", ids("period"), chosen),
	because("Skill that no field records shows in how the denture fits and bites.", ids("clinician", "operator"), ids("fit", "bite", "reading_error")),
	because("One person reads a shadow as a sore spot, adjusts or remakes sooner than another.", ids("clinician"),
		ids("early_sore_spots", "any_ulcer", "adjustment_visits", "reline", "remake", "display_complaint", "vertical_complaint")),
	because("Materials and habits of aftercare change from year to year.", ids("period"),
		ids("fit", "bite", "early_sore_spots", "any_ulcer", "adjustment_visits", "reline", "remake", "display_complaint", "vertical_complaint")),
	because("A person has one grade at a time.", ids("clinician"), ids("operator")),
	because("People rise in grade over the years.", ids("period"), ids("operator")),
	because("Hard ridges are given to some people and grades rather than to others.", ids("ridge"), ids("clinician", "operator")),
	because("People work at certain sites.", ids("site"), ids("clinician")),
	because("A site sends its work to certain laboratories.", ids("site"), ids("lab")),
	because("Sites draw on different neighbourhoods and referrals.", ids("site"), ids("ridge", "age", "prior")),
	because("A site's plan of aftercare decides how often patients are seen and what is written.", ids("site"),
		ids("early_sore_spots", "adjustment_visits", "reline", "remake")),
	because("Laboratories take more or less time.", ids("lab"), ids("delay")),
	because("Laboratories process bases and set teeth with more or less error.", ids("lab"), ids("fit", "bite")),
)

var patient = slices.Concat(
	because("Ridges shrink over the years.", ids("age"), ids("ridge")),
	because("Frailty comes with age.", ids("age"), ids("frailty")),
	because("Poor health goes with thin tissue and lost bone.", ids("frailty"), ids("ridge")),
	because("Frail patients hurt sooner and come back less readily.", ids("frailty"), ids("early_sore_spots", "any_ulcer", "adjustment_visits", "reline", "remake")),
	because("A low ridge is hard to fit a tray to and takes more tries.", ids("ridge"), ids("clearance", "touches", "seating", "discomfort", "tries", "technique")),
	because("On a low ridge the records are less steady, so more is done or left.", ids("ridge"), ids("rest_state", "repeats", "repeat_spread", "centric_takes", "centric_method", "remount", "freeway")),
	because("A low ridge carries the denture badly.", ids("ridge"), ids("early_sore_spots", "adjustment_visits", "reline", "remake", "bite")),
	because("Upper and lower jaws differ in shape, trays and what the tray can reach.", ids("arch"), ids("clearance", "touches", "seating", "palate", "discomfort", "tries", "technique", "sized_by", "clearance_record")),
	because("Lower dentures rest on less and need more care in every series.", ids("arch"), ids("early_sore_spots", "any_ulcer", "adjustment_visits", "reline", "remake", "display_complaint")),
	because("Face height and muscle tone differ by age and sex.", ids("age", "sex"), ids("vertical", "freeway")),
	because("Jaws differ in size by sex.", ids("sex"), ids("clearance")),
	because("Less of the upper teeth shows in older people and in men, and display is chosen with that in mind.", ids("age", "sex"), ids("display")),
	because("Wishes about looks differ by age and sex.", ids("age", "sex"), ids("display_complaint", "vertical_complaint")),
	because("Where there is an old denture its vertical can be copied, the tray sized by it and rest read with it in.", ids("prior"), ids("vertical_basis", "sized_by", "rest_state", "vertical", "freeway")),
	because("The old denture's looks are kept or changed on purpose.", ids("prior"), ids("display")),
	because("Whether there is an old denture decides whether this is a first one.", ids("prior"), ids("course")),
	because("What was worn before shapes what the patient expects and has got used to.", ids("prior"), ids("early_sore_spots", "adjustment_visits", "remake", "display_complaint", "vertical_complaint")),
	because("An immediate denture or a remake is hurried or waited for.", ids("course"), ids("delay")),
	because("Sockets that are still healing and dentures that failed before bring more trouble.", ids("course"), ids("early_sore_spots", "adjustment_visits", "reline", "remake")),
)

var trayEdges = slices.Concat(
	because("Space that is not written down was often not looked at.", ids("clearance_record"), ids("clearance")),
	because("Each technique asks for its own space.", ids("technique"), ids("clearance")),
	because("A tray sized by eye is more often the wrong size.", ids("sized_by"), ids("tries", "clearance")),
	because("The first tray tried is not always the nearest in size.", ids("tries"), ids("clearance")),
	because("A tray of the wrong size reaches or rides on what it should clear.", ids("clearance"), ids("touches")),
	because("A tray without room, or held up by what it touches, does not seat.", ids("clearance", "touches"), ids("seating")),
	because("An oversized or half-seated tray leaves bulk over the palate.", ids("clearance", "seating"), ids("palate")),
	because("A tray that is tight, touches or does not seat hurts.", ids("clearance", "touches", "seating"), ids("discomfort")),
	because("Uneven, thick or displaced material gives an impression that is not the shape of the tissue at rest.",
		ids("technique", "clearance", "touches", "seating", "palate", "discomfort"), ids("fit")),
	because("Tissue changes while the denture is waited for.", ids("delay"), ids("fit")),
)

var verticalEdges = slices.Concat(
	because("Bulk over the palate keeps the patient from closing and raises the vertical.", ids("palate"), ids("vertical")),
	because("The vertical is copied, or worked out from rest.", ids("vertical_basis"), ids("vertical")),
	because("Whoever copies the vertical sees less need to read rest.", ids("vertical_basis"), ids("rest_record")),
	because("Freeway space is rest minus the vertical of occlusion.", ids("vertical"), ids("freeway")),
	because("Rest moves when a denture is in.", ids("rest_state"), ids("freeway", "reading_error")),
	because("A rest position that was not written down is guessed.", ids("rest_record"), ids("reading_error")),
	because("One reading carries its whole error along.", ids("repeats"), ids("reading_error")),
	because("Repeats that disagree leave the value in doubt.", ids("repeat_spread"), ids("reading_error")),
	because("Rounding to 5 mm can miss by up to 2.5 mm.", ids("whole_fives"), ids("reading_error")),
	because("When the three numbers disagree one of them is wrong.", ids("sums"), ids("reading_error")),
	because("The denture is built to what was recorded.", ids("freeway"), ids("real_freeway")),
	because("An error of the readings ends up in the space that is really left.", ids("reading_error"), ids("real_freeway")),
	because("Without the lip length the display is a guess.", ids("lip_record"), ids("display")),
	because("Some ways of finding centric repeat worse than others.", ids("centric_method"), ids("bite")),
	because("A single record cannot show that it can be repeated.", ids("centric_takes"), ids("bite")),
	because("A remount takes out errors of processing.", ids("remount"), ids("bite")),
)

var laterEdges = slices.Concat(
	because("With too little room at rest the ridges are loaded all day.", ids("real_freeway"), ids("early_sore_spots")),
	because("Too little or too much room is felt and heard in speech and chewing.", ids("real_freeway"), ids("vertical_complaint", "adjustment_visits")),
	because("A base that does not fit presses here and lets go there.", ids("fit"), ids("early_sore_spots", "adjustment_visits", "reline", "remake")),
	because("A wrong bite tips the denture and presses on one side.", ids("bite"), ids("early_sore_spots", "adjustment_visits", "remake")),
	because("A display other than the lip and the face suggest is noticed.", ids("display"), ids("display_complaint")),
	because("A sore spot that goes on breaks the surface.", ids("early_sore_spots"), ids("any_ulcer")),
	because("What hurts or displeases is brought back to be adjusted.", ids("early_sore_spots", "any_ulcer", "display_complaint", "vertical_complaint"), ids("adjustment_visits")),
	because("What many adjustments do not settle is relined or made again.", ids("adjustment_visits"), ids("reline", "remake")),
	because("Looks or a vertical that cannot be adjusted are made again.", ids("display_complaint", "vertical_complaint"), ids("remake")),
	because("A reline settles the fit without a new denture.", ids("reline"), ids("remake")),
)
