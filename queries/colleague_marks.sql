-- Question:   what does each patient bring to the mean cumulative function, and through whom?
-- Unit:       one row per patient, clinician, kind of mark and day
-- Parameters: $1 outcome in linked_events, $2 last day of its window; reads group_rows of clinician_rows
-- Columns:    patient_no, grp (clinician), kind (0 an end of follow-up, 1 events), day (from delivery), n (ends, or events)
-- Order:      none; readers sum
CREATE OR REPLACE TEMP TABLE colleague_marks AS
SELECT patient_no, grp, kind, day, CAST(sum(n) AS BIGINT) AS n
FROM (
    SELECT patient_no, grp, 0 AS kind, least(risk_days, CAST($2 AS INTEGER)) AS day, 1 AS n FROM group_rows WHERE grp > 1
    UNION ALL
    SELECT g.patient_no, g.grp, 1, e.day, e.n
    FROM group_rows g JOIN linked_events e ON e.denture_no = g.denture_no
    WHERE g.grp > 1 AND e.outcome = CAST($1 AS VARCHAR)
)
GROUP BY patient_no, grp, kind, day
