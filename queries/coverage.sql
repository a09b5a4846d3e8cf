-- Question:   what do the figures stand on?
-- Unit:       one row; parameter $1 is a clinician code, or NULL for all
-- Parameters: $1 clinician or NULL, $2 days within which a planned visit counts as attended
-- Columns:    first and last period of records, cases, patients, sites, clinicians, delivered, undelivered, delivered but
--             not observed, median follow-up (days), dentures whose year is complete, with a planned visit, visits without
--             arch, visits before delivery, rows set aside and not corrected since
-- Order:      none, one row
WITH c AS (SELECT * FROM cases WHERE $1 IS NULL OR clinician = CAST($1 AS VARCHAR)),
d AS (SELECT * FROM linked_dentures WHERE $1 IS NULL OR clinician = CAST($1 AS VARCHAR)),
o AS (SELECT n.* FROM dentures n JOIN c USING (case_id)),
v AS (SELECT s.* FROM visits s JOIN c USING (case_id))
SELECT coalesce((SELECT min(records_on) FROM c), ''), coalesce((SELECT max(records_on) FROM c), ''),
       (SELECT count(*) FROM c), (SELECT count(DISTINCT patient_key) FROM c), (SELECT count(DISTINCT site) FROM c), (SELECT count(DISTINCT clinician) FROM c),
       (SELECT count(*) FROM d), (SELECT count(*) FROM o WHERE delivered_day IS NULL),
       (SELECT count(*) FROM o JOIN c USING (case_id) WHERE o.delivered_day > c.observed_to_day),
       (SELECT CAST(median(risk_days) AS DOUBLE) FROM d), (SELECT count(*) FROM d WHERE risk_days >= 365),
       (SELECT count(*) FROM d JOIN linked_firsts f ON f.case_id = d.case_id AND f.arch = d.arch AND f.outcome = 'planned_visit' AND f.day <= CAST($2 AS INTEGER)),
       (SELECT count(*) FROM v WHERE arch IS NULL),
       (SELECT count(*) FROM v JOIN (SELECT case_id, min(delivered_day) AS first_day FROM o GROUP BY case_id) f USING (case_id) WHERE v.day < f.first_day),
       (SELECT count(*) FROM set_aside a WHERE NOT EXISTS (SELECT 1 FROM corrected k WHERE k.of_load = a.load_id AND k.table_name = a.table_name AND k.file = a.file AND k.line = a.line AND k.column_name IS NOT DISTINCT FROM a.column_name))
