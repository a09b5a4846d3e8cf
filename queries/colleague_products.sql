-- Question:   how do the ends of follow-up and the events of one patient lie beside each other?
-- Unit:       one row per pair of days, the first no later than the second
-- Parameters: none; last days of the windows are filled in; reads cohort and cohort_events
-- Columns:    day_a, day_b, and sums over patients of products of what lies on the first day and on the second: visits by visits, visits by
--             ends, ends by visits, ends by ends, minutes by minutes, minutes by ends, ends by minutes; the same for spots and the ends
--             of their own window: spots by spots, spots by ends, ends by spots, ends by ends
-- Order:      day_a, day_b
WITH days AS (
    SELECT patient_no, day, sum(v) AS v, sum(m) AS m, sum(s) AS s, sum(e) AS e, sum(f) AS f
    FROM (
        SELECT patient_no, day, visits AS v, minutes AS m, spots AS s, 0 AS e, 0 AS f FROM cohort_events
        UNION ALL
        SELECT patient_no, least(left_as // 2, {{.Visit}}), 0, 0, 0, 1, 0 FROM cohort
        UNION ALL
        SELECT patient_no, least(left_as // 2, {{.Sore}}), 0, 0, 0, 0, 1 FROM cohort
    )
    GROUP BY patient_no, day
), narrow AS (
    SELECT patient_no, day, CAST(v AS BIGINT) AS v, CAST(m AS BIGINT) AS m, CAST(s AS BIGINT) AS s, CAST(e AS BIGINT) AS e, CAST(f AS BIGINT) AS f FROM days
)
SELECT a.day, b.day, CAST(sum(a.v * b.v) AS BIGINT), CAST(sum(a.v * b.e) AS BIGINT), CAST(sum(a.e * b.v) AS BIGINT), CAST(sum(a.e * b.e) AS BIGINT),
       CAST(sum(a.m * b.m) AS BIGINT), CAST(sum(a.m * b.e) AS BIGINT), CAST(sum(a.e * b.m) AS BIGINT),
       CAST(sum(a.s * b.s) AS BIGINT), CAST(sum(a.s * b.f) AS BIGINT), CAST(sum(a.f * b.s) AS BIGINT), CAST(sum(a.f * b.f) AS BIGINT)
FROM narrow a JOIN narrow b ON b.patient_no = a.patient_no AND b.day >= a.day
GROUP BY a.day, b.day
ORDER BY a.day, b.day
