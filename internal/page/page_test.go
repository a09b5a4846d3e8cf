package page

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"afterfit/internal/bundle"
	"afterfit/internal/review"
	"afterfit/reports"
)

var out = flag.String("out", "", "folder to write the canned pages to, for looking at them")

func rendered(t *testing.T, name string) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, pages()[name](&b))
	if *out != "" {
		require.NoError(t, os.MkdirAll(*out, 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(*out, name+".html"), b.Bytes(), 0o644))
	}
	return b.String()
}

// ours is a page without the parts that are the same on every page.
func ours(page string) string {
	page = strings.ReplaceAll(page, reports.Library, "")
	return strings.ReplaceAll(strings.ReplaceAll(page, reports.Boot, ""), english.style(), "")
}

func TestSameInputSameBytes(t *testing.T) {
	for name := range pages() {
		first, again := rendered(t, name), rendered(t, name)
		assert.True(t, first == again, name)
	}
}

var (
	outside  = regexp.MustCompile(`(?i)(src|href|action|srcset|data)\s*=\s*["']?\s*(https?:|//|file:)`)
	openings = regexp.MustCompile(`(?i)<script[^>]*>`)
)

func TestPagesFetchNothingAndHoldOnlyTheirScripts(t *testing.T) {
	for name := range pages() {
		page := ours(rendered(t, name))
		assert.NotRegexp(t, outside, page, name)
		for _, s := range openings.FindAllString(page, -1) {
			if s != "<script>" {
				assert.Regexp(t, `^<script type="application/json" id="[a-z0-9_-]+-data">$`, s, name)
			}
		}
		assert.LessOrEqual(t, strings.Count(page, "<script>"), 2, name)
		assert.NotContains(t, page, "<img", name)
		assert.NotContains(t, page, " style=", name)
		assert.NotContains(t, page, "ZgotmplZ", name)
		assert.NotContains(t, page, "NaN", name)
		assert.Contains(t, page, "default-src &#39;none&#39;", name)
	}
}

func TestPagesKeepTheirSize(t *testing.T) {
	assert.Less(t, len(rendered(t, "pack")), 2_000_000)
	assert.Less(t, len(rendered(t, "summary")), 1_000_000)
}

func TestPackAnswersInOrder(t *testing.T) {
	page := rendered(t, "pack")
	at := 0
	for _, id := range []string{"standing", "since", "habits", "measurements", "zones", "apart", "thought", "steady", "change", "know", "records", "open", "lesions", "casemix", "method", "cautions"} {
		i := strings.Index(page, `<section id="`+id+`"`)
		assert.Greater(t, i, at, id)
		at = i
	}
	for _, words := range []string{
		"This data is invented", "Look here first.", "Clear: dentures from trays with more than 2 mm of space had 63 more adjustment visits per 100 than like dentures of the same clinician (95% interval 50 to 77; 233 against 170 per 100; n = 812 and 5,000).",
		"This may be chance.", "Association is not cause", "not for disciplinary use on their own", "NICE NG12", "licensed judgement", "no legal privilege",
		"of 4 clinicians with enough events 1 lies outside the 99.8% limits and 1 more outside the 95% limits; if all worked alike, about 0.2 would lie outside 95% by chance.",
		"Unlike the others, so look here first: verticals of occlusion on a multiple of 5 mm 60% (all: 19%).", "Too few to tell: 2.1 events expected",
		"Adjustment visits: not steady. Broken: a point beyond the limits (2023-09 above); a shift: 9 months in a row on one side of the median, 8 are the most that chance allows; too few crossings of the median: 9, at least 12 are to be expected.",
		"from 55% to 7.0% there, from 23.0% to 23.0% elsewhere, a factor of 0.13 (95% interval 0.10 to 0.16) against the others: it fell.", "no clear change; the interval says how large a change could still hide",
		"Of 2 habits, 1 did not keep a steady share in the service as a whole; if nobody had changed anything, the rules on runs would still name about 0.",
		"Clinicians in whom it shows: 1 of 2 “the same display in nearly every case”.",
		"120 cases and 210 dentures are new. Moved beyond chance: adjustment visits, from 131 to 148.", "takes 400 dentures in each of two periods: about 2 months at the present pace",
		"Records of 2022-Q1 to 2024-Q4: 4,000 cases of 3,871 patients, 3 sites, 14 clinicians.", "6f2c9d0e4b7a18553c0f9e21", "Rows set aside on loading",
	} {
		assert.Contains(t, page, words)
	}
}

func TestUnansweredQuestionsAreAbsent(t *testing.T) {
	page := ours(rendered(t, "tiny"))
	for _, id := range []string{"since", "habits", "measurements", "zones", "apart", "thought", "steady", "change", "know", "records", "open", "lesions", "casemix"} {
		assert.NotContains(t, page, `id="`+id+`"`)
	}
	assert.Contains(t, page, "Too few to tell: 1 denture.")
	assert.NotContains(t, page, "invented")
}

// The pack compares clinicians, and so it must not say who is who.
func TestPackNamesNoClinician(t *testing.T) {
	page := ours(rendered(t, "pack"))
	for _, g := range story().Groups {
		for _, v := range g.Values {
			if g.Dimension == "clinician" {
				assert.NotContains(t, page, v.Code)
			}
		}
	}
	var b bytes.Buffer
	opt := storyOptions()
	opt.LabelClinicians = true
	require.NoError(t, Pack(&b, story(), opt))
	assert.Contains(t, b.String(), "C01", "the lead asked")
}

func TestHostileNamesStayText(t *testing.T) {
	page := ours(rendered(t, "hostile"))
	assert.NotContains(t, page, hostileCodes[0])
	assert.NotContains(t, page, hostileCodes[2])
	assert.Contains(t, page, `\u003c/script\u003e`, "the name reaches the charts' data, escaped")
	assert.Contains(t, page, "&lt;/script&gt;", "the name reaches the tables, escaped")
}

func TestSummaryPutsStrengthsFirstAndColleaguesUnlabelled(t *testing.T) {
	page := ours(rendered(t, "summary"))
	at := 0
	for _, id := range []string{"strengths", "try", "beside", "figures", "habits", "trend", "open", "lesions", "dispute"} {
		i := strings.Index(page, `<section id="`+id+`"`)
		assert.Greater(t, i, at, id)
		at = i
	}
	assert.Contains(t, page, "K-1311")
	assert.Contains(t, page, ">you</text>")
	assert.Contains(t, page, "for you alone")
	assert.Contains(t, page, "Adjustment visits: 260 where your cases lead to expect 200, 1.30 times (1.20 to 1.40); above 99.8% limits.")
	assert.Contains(t, page, "100 more dentures, about 10 months")
	assert.Contains(t, page, "The same display in nearly every case: 97.0% of 200, where 45% could be expected.")
	assert.Contains(t, page, ">31% (95% interval 26 to 36)")
	assert.NotContains(t, page, "C01")
}

func TestSummaryFileHidesTheCode(t *testing.T) {
	a, b := SummaryFile("C05", "x"), SummaryFile("C06", "x")
	assert.NotEqual(t, a, b)
	assert.NotEqual(t, a, SummaryFile("C05", "y"))
	assert.Equal(t, a, SummaryFile("C05", "x"))
	assert.Regexp(t, `^summary-[0-9a-f]{12}\.html$`, a)
	assert.Regexp(t, `^summary-[0-9a-f]{12}\.html$`, SummaryFile("../../etc/passwd", "x"))
}

func TestNumbersShowWhatTheirIntervalSupports(t *testing.T) {
	for _, c := range []struct {
		e    review.Estimate
		want string
	}{
		{est(143.62, 141.2, 146.9, 10, 0, "per 100 dentures"), "144 (141 to 147)"},
		{est(4.123, 3.6, 4.7, 10, 0, "%"), "4.1% (3.6 to 4.7)"},
		{est(0.231, 0.2, 0.27, 10, 0, "%"), "0.23% (0.20 to 0.27)"},
		{est(-31.4, -44.2, -18.1, 10, 0, "per 100 dentures"), "−31 (−44 to −18)"},
		{est(12345.6, 12000, 13000, 10, 0, ""), "12,346 (12,000 to 13,000)"},
		{est(-0.2, -8, 8, 10, 0, ""), "0 (−8 to 8)"},
		{fewer(3), "too few to tell"},
	} {
		assert.Equal(t, c.want, english.short(c.e))
	}
}

// The wording comes from the grade, and says which way a difference goes.
func TestPairsAreSaidByTheirGrade(t *testing.T) {
	w := english
	for grade, want := range map[review.Grade]string{
		review.Clear:   "Clear: dentures from trays sized by eye had 68 more adjustment visits per 100 than like dentures of the same clinician (95% interval",
		review.Likely:  "Likely: dentures",
		review.Unclear: "This may be chance.",
		review.NoSign:  "had about as many adjustment visits as like dentures of the same clinician (difference 68",
		review.TooFew:  "adjustment visits: too few to tell.",
	} {
		assert.Contains(t, w.paired(storyPair("sized_by_eye", review.Adjustments, grade, 1.4, 170, 812)), want)
	}
	assert.Contains(t, w.paired(storyPair("sized_by_eye", review.Remake, review.Likely, 0.5, 6, 812)), "had 3.00 fewer remakes within a year per 100")
	assert.Contains(t, rendered(t, "pack"), "About 1,207 more dentures with the habit would show a rate 50% higher, if there is one, four times in five.")
	for _, g := range gradeOrder {
		assert.NotEmpty(t, english.gradeMeaning(g), g)
		assert.NotContains(t, english.gradeMeaning(g), "cause", g)
	}
}

// Every rule that holds a grade back, and every outcome, has its words.
func TestEveryPairHasWords(t *testing.T) {
	for _, id := range outcomeOrder {
		_, ok := english.Named("outcome.*.counted", id)
		assert.True(t, ok, id)
	}
	page := ours(rendered(t, "pack"))
	for _, words := range []string{"If the habit stopped: about 373 fewer adjustment visits a year at this service", "takes for granted that the habit itself brings the difference",
		"Exploratory: looked at without being stated in advance", "it looks like the habit rather than the person", "the crude ratio would lie between 0.90 and 1.60", "Pairs that should show nothing"} {
		assert.Contains(t, page, words)
	}
}

func TestNamesCannotTurnASentenceRound(t *testing.T) {
	assert.Equal(t, "NORTH", english.value("site", "NORTH"))
	assert.Equal(t, "\u2068\u202eX\u2069", english.value("site", "\u202eX"))
	assert.Contains(t, ours(rendered(t, "hostile")), "\u2068"+hostileCodes[3]+"\u2069")
}

func TestEveryZoneOfTheContractHasAName(t *testing.T) {
	for _, arch := range []string{"upper", "lower"} {
		for _, z := range bundle.Zones(arch) {
			_, ok := english.Named("zone.*", z)
			assert.True(t, ok, z)
		}
	}
}

func TestEveryOutcomeOfFindingsHasWords(t *testing.T) {
	for _, id := range outcomeOrder {
		_, named := english.Named("outcome.*.name", id)
		assert.True(t, named, id)
		assert.NotEmpty(t, english.outcomeDefinition(id), id)
	}
}

// Habits in which a reader cannot be told from colleagues wait to be opened, so that the
// others are seen; the table has all.
func TestSummaryShowsFirstTheHabitsThatStandApart(t *testing.T) {
	s := storySummary()
	apart := s.Habits[0]
	alike := apart
	alike.Habit, alike.Colleagues = "single_phase", apart.Own
	s.Habits = []review.OwnHabit{alike, apart}
	sec := ownHabits(s, english)
	assert.Equal(t, "habit-"+apart.Habit, sec.Figures[0].ID)
	assert.Len(t, sec.Figures[1].Table.Rows, 2)
	assert.Equal(t, "1 habit in which you and your colleagues cannot be told apart", sec.ClosedTitle)
	assert.Equal(t, "habit-single_phase", sec.Closed[0].ID)
	untold := review.Estimate{TooFew: "fewer than 10 dentures"}
	assert.True(t, overlap(untold, apart.Own), "what has no figure is not told apart")
}

// A small service has next to nothing but comparisons that are too few to tell: they wait
// in one line, and those that tell something stay in sight.
func TestComparisonsTooFewToTellWaitInOneLine(t *testing.T) {
	pairs := []review.Pair{{ID: "a", Grade: review.Clear}, {ID: "b", Grade: review.TooFew}, {ID: "c", Grade: review.TooFew, Control: true}}
	told, few := apartFromFew([]fold{{ID: "a"}, {ID: "b"}, {ID: "c"}}, pairs)
	assert.Equal(t, []fold{{ID: "a"}, {ID: "c"}}, told)
	assert.Equal(t, []fold{{ID: "b"}}, few)
	assert.Contains(t, rendered(t, "pack"), "too few dentures or events to tell</summary>")
}

func TestIndexLeadsToTheSummaries(t *testing.T) {
	assert.Regexp(t, `<a href="(summary-[0-9a-f]{12}\.html)">summary-[0-9a-f]{12}\.html</a>`, rendered(t, "index"))
}
