package page

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/review"
)

func TestAuditAnswersInOrder(t *testing.T) {
	page := ours(rendered(t, "audit"))
	at := 0
	for _, id := range []string{"timeline", "records", "habits", "expected", "zones", "look", "lesions", "similar", "questions", "method", "cautions"} {
		i := strings.Index(page, `<section id="`+id+`"`)
		assert.Greater(t, i, at, id)
		at = i
	}
	for _, words := range []string{
		"The upper was delivered on day 23 and adjusted at 3 visits in the first 90 days, and remade on day 350.",
		"The lower was delivered on day 23 and adjusted at 5 visits in the first 90 days, relined on day 200; it was followed to day 640 (still observed when exported).",
		"records taken by a student.", "course not recorded",
		"3 of 4 values are recorded; not recorded: vertical dimension of rest. Outside the usual range: freeway space.",
		"The upper needed 3 adjustment visits in 90 days; dentures like it needed 1.42 on average (95% interval 1.20 to 1.66; n = 324). Of the 310 followed as long, 27 needed as many or more.",
		"None of the 305 followed as long needed as many.", "Look here first.",
		"Lower: the ridge crest is sore on one side only.", "Look first at a bite error on that side (common practice, no source).",
		"Check first: was the lower retromylohyoid area, patient’s left examined", "Vertical dimension of rest is not recorded: how was the choice made without it?",
		"The 5 nearest cases needed 0 to 4 adjustment visits each; 1 had a denture remade.", "ridge class 1 apart; age band 3 apart; freeway space about 2 mm apart; clearance about 1 mm apart",
		"Picked by the rule “worst”, number 1:", "not for disciplinary use on their own", "NICE NG12",
	} {
		assert.Contains(t, page, words)
	}
}

// The teaching form shows nothing of the outcome before it is opened, and needs no script for it.
func TestTeachingFormFoldsTheOutcomeAway(t *testing.T) {
	page := ours(rendered(t, "teach"))
	before, after, ok := strings.Cut(page, `<details class="fold" id="after"><summary>`)
	require.True(t, ok)
	hidden, rest, ok := strings.Cut(after, `<section id="cautions"`)
	require.True(t, ok)
	for _, id := range []string{"timeline", "expected", "zones", "look", "lesions", "similar", "questions"} {
		assert.Contains(t, hidden, `<section id="`+id+`"`)
		assert.NotContains(t, before+rest, `id="`+id+`"`)
	}
	for _, words := range []string{"remade on day", "Picked by", "day 640", "still observed", "sore at visits", "retromylohyoid", "dentures like it", "Look here first"} {
		assert.Contains(t, ours(rendered(t, "audit")), words, "the full form says it")
		assert.NotContains(t, before+rest, words)
	}
	assert.Contains(t, before, "How many adjustment visits do you expect")
	assert.Contains(t, before, "Outside the usual range: freeway space.")
}

func TestAuditOfNextToNothing(t *testing.T) {
	page := ours(rendered(t, "bare"))
	assert.Contains(t, page, "The lower was not delivered while the case was under observation.")
	for _, id := range []string{"records", "habits", "expected", "zones", "look", "lesions", "similar"} {
		assert.NotContains(t, page, `id="`+id+`"`)
	}
}

func TestAuditFileTellsThePseudonymAlone(t *testing.T) {
	assert.Equal(t, "audit-K00000032.html", AuditFile("K00000032"))
	for _, id := range []string{"../../etc/passwd", "k-1", "a b", "", strings.Repeat("W", 200), "é"} {
		assert.Regexp(t, `^audit-x[0-9a-f]{12}\.html$`, AuditFile(id))
	}
	assert.NotEqual(t, AuditFile("k-1"), AuditFile("K-1"), "also where file systems fold case")
}

func TestAuditHoldsHostileNames(t *testing.T) {
	page := ours(rendered(t, "hostile-audit"))
	assert.NotContains(t, page, hostileCodes[0])
	assert.NotContains(t, page, hostileCodes[2])
	assert.Contains(t, page, "&lt;/script&gt;")
	assert.NotContains(t, page, "ZgotmplZ")
}

func TestAuditsKeepTheirSize(t *testing.T) {
	assert.Less(t, len(rendered(t, "audit")), 200_000, "no chart script is carried for nothing")
}

func TestDifferencesOfNearCasesAreTold(t *testing.T) {
	assert.Equal(t, "the same in all that is compared", english.differs(review.SimilarCase{}))
	assert.Equal(t, "ridge class recorded for only one of the two; prior denture differs; sex differs; clearance recorded for only one of the two",
		english.differs(review.SimilarCase{RidgeFar: -1, PriorFar: 1, SexFar: 1, ClearanceFar: -1}))
}

func TestEveryRuleHasWords(t *testing.T) {
	for _, r := range []string{review.PickWorst, review.PickBest, review.PickRandom, review.PickHabit, review.PickZone, review.PickRemake, review.PickLesion} {
		assert.NotEmpty(t, AuditReason(&review.Audit{Rule: r}), r)
	}
	assert.Empty(t, AuditReason(&review.Audit{Rule: "named"}))
}

// A question that the case gives several causes to ask is put once, with a list.
func TestQuestionsOfOneKindAreAskedOnce(t *testing.T) {
	for id, want := range map[string]struct {
		about []string
		text  string
	}{
		review.AskReview: {[]string{"lower|ridge_anterior|left", "upper|tuberosity|right"}, "Check first: was each of these places examined after it was last seen sore, and where is that recorded? Lower " + english.zone("ridge_anterior") + ", patient’s left; upper " + english.zone("tuberosity") + ", patient’s right."},
		review.AskRecord: {[]string{"freeway_mm", "vdr_mm"}, "Not recorded: freeway space; vertical dimension of rest. How was the choice made without them?"},
		review.AskAgain:  {[]string{"upper|tuberosity|right", "upper|tuberosity|left"}, "These places were sore at more than one visit. Was the cause sought, or only the spot eased? Upper " + english.zone("tuberosity") + ", patient’s right; upper " + english.zone("tuberosity") + ", patient’s left."},
	} {
		a := storyAudit()
		a.Questions = nil
		for _, about := range want.about {
			a.Questions = append(a.Questions, review.AuditQuestion{ID: id, About: about})
		}
		assert.Equal(t, []string{want.text}, auditQuestions(a, english).Asks, id)
	}
	// A remake is asked about by itself: what holds for one arch need not hold for the other.
	assert.Equal(t, 2, len(auditQuestions(&review.Audit{Questions: []review.AuditQuestion{{ID: review.AskCause, About: "upper"}, {ID: review.AskCause, About: "lower"}}}, english).Asks))
}
