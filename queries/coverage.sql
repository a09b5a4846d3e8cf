-- Question:   what do the figures stand on?
-- Unit:       one row
-- Parameters: $1 days within which a planned visit counts as attended; filled with the marks of visits
-- Columns:    first and last period of records, cases, patients, sites, clinicians, delivered, undelivered, delivered but
--             not observed, median follow-up (days), dentures whose year is complete, with a planned visit, visits without
--             arch, visits before delivery, rows set aside and not corrected since
-- Order:      none, one row
WITH made AS MATERIALIZED (
    SELECT count(*) AS delivered, CAST(median(end_day - delivered_day) AS DOUBLE) AS median_days, count(*) FILTER (end_day - delivered_day >= 365) AS full_year
    FROM linked_made
)
SELECT coalesce((SELECT min(records_on) FROM cases), ''), coalesce((SELECT max(records_on) FROM cases), ''),
       (SELECT count(*) FROM cases), (SELECT count(DISTINCT patient_no) FROM linked_cases), (SELECT count(DISTINCT site) FROM cases), (SELECT count(DISTINCT clinician) FROM cases),
       (SELECT delivered FROM made), (SELECT count(*) FROM dentures WHERE delivered_day IS NULL),
       (SELECT count(*) FROM dentures o JOIN cases c USING (case_id) WHERE o.delivered_day > c.observed_to_day),
       (SELECT median_days FROM made), (SELECT full_year FROM made),
       (SELECT count(DISTINCT CAST(seen >> 32 AS INTEGER)) FROM linked_visits WHERE seen & {{.marks.planned}} > 0 AND seen >> 16 & 65535 <= CAST($1 AS INTEGER)),
       (SELECT count(*) FROM visits WHERE arch IS NULL),
       (SELECT count(*) FROM visits v JOIN (SELECT case_id, min(delivered_day) AS first_day FROM dentures GROUP BY case_id) f USING (case_id) WHERE v.day < f.first_day),
       (SELECT count(*) FROM set_aside a WHERE NOT EXISTS (SELECT 1 FROM corrected k WHERE k.of_load = a.load_id AND k.table_name = a.table_name AND k.file = a.file AND k.line = a.line AND k.column_name IS NOT DISTINCT FROM a.column_name))
