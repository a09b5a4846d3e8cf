-- Question:   on how many people does a page for outside stand, and how many are on the list of sore places that it leaves out?
-- Unit:       one row
-- Parameters: $1 days apart from which a place is listed, as lesions
-- Columns:    first and last year of records, sites, clinicians, dentures delivered, their patients, median follow-up (days),
--             places that stayed sore, their patients
-- Order:      none, one row
WITH sore AS (
    SELECT v.case_id, p.arch, p.zone, max(v.day) AS last_day
    FROM sore_spots p JOIN visits v USING (visit_id)
    GROUP BY v.case_id, p.arch, p.zone, coalesce(p.side, '')
    HAVING max(v.day) - min(v.day) >= CAST($1 AS INTEGER)
), places AS (
    SELECT s.case_id, c.patient_key FROM sore s JOIN cases c USING (case_id)
    WHERE NOT EXISTS (SELECT 1 FROM visits r WHERE r.case_id = s.case_id AND r.lesion_review = 'yes' AND r.day >= s.last_day)
)
SELECT coalesce((SELECT min(records_on)[1:4] FROM cases), ''), coalesce((SELECT max(records_on)[1:4] FROM cases), ''),
       (SELECT count(DISTINCT site) FROM cases), (SELECT count(DISTINCT clinician) FROM cases),
       (SELECT count(*) FROM linked_dentures), (SELECT count(DISTINCT patient_no) FROM linked_dentures), (SELECT CAST(median(risk_days) AS DOUBLE) FROM linked_dentures),
       (SELECT count(*) FROM places), (SELECT count(DISTINCT patient_key) FROM places)
