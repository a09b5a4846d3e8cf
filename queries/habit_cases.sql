-- Question:   which of each clinician's cases show a habit, the ones with most adjustment visits first?
-- Unit:       one row per clinician, habit and case, at most five cases each
-- Parameters: $1 habit ids joined by |
-- Columns:    clinician, habit, case_id
-- Order:      clinician, habit, adjustment visits descending, case_id
WITH long AS (
    UNPIVOT (SELECT case_id, denture_no, clinician, COLUMNS('^h_') FROM linked_dentures) ON COLUMNS('^h_') INTO NAME habit VALUE present
), visits AS (
    SELECT denture_no, count(*) AS n FROM linked_events WHERE outcome = 'adjustment_visits' GROUP BY denture_no
), shown AS (
    SELECT l.clinician, l.habit[3:] AS habit, l.case_id, coalesce(sum(v.n), 0) AS visits
    FROM long l LEFT JOIN visits v USING (denture_no)
    WHERE l.present AND list_contains(string_split(CAST($1 AS VARCHAR), '|'), l.habit[3:])
    GROUP BY ALL
)
SELECT clinician, habit, case_id
FROM shown
QUALIFY row_number() OVER (PARTITION BY clinician, habit ORDER BY visits DESC, case_id) <= 5
ORDER BY clinician, habit, visits DESC, case_id
