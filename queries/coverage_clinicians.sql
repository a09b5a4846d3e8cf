-- Question:   what do each clinician's own figures stand on?
-- Unit:       one row per clinician with a case
-- Parameters: $1 days within which a planned visit counts as attended
-- Columns:    clinician, then as coverage has them
-- Order:      clinician
WITH of_dentures AS (
    SELECT case_id, min(delivered_day) AS first_day, max(delivered_day) AS last_day, count(delivered_day) AS delivered, count(*) - count(delivered_day) AS undelivered
    FROM dentures GROUP BY case_id -- two at the most, one of each arch
), o AS MATERIALIZED ( -- visits are many: each meets its case once
    SELECT c.case_id, c.clinician, f.first_day, coalesce(f.undelivered, 0) AS undelivered,
           CASE WHEN f.first_day > c.observed_to_day THEN f.delivered WHEN f.last_day > c.observed_to_day THEN 1 ELSE 0 END AS unobserved
    FROM cases c LEFT JOIN of_dentures f USING (case_id)
), of_cases AS (
    SELECT clinician, min(records_on) AS first_period, max(records_on) AS last_period, count(*) AS cases,
           count(DISTINCT patient_key) AS patients, count(DISTINCT site) AS sites
    FROM cases GROUP BY clinician
), of_linked AS (
    SELECT clinician, count(*) AS delivered, CAST(median(risk_days) AS DOUBLE) AS median_days, count(*) FILTER (risk_days >= 365) AS full_year
    FROM linked_dentures GROUP BY clinician
), of_made AS (
    SELECT clinician, sum(undelivered) AS undelivered, sum(unobserved) AS unobserved FROM o GROUP BY clinician
), of_planned AS (
    SELECT d.clinician, count(*) AS attended
    FROM linked_dentures d JOIN linked_firsts f ON f.denture_no = d.denture_no AND f.outcome = 'planned_visit' AND f.day <= CAST($1 AS INTEGER)
    GROUP BY d.clinician
), of_visits AS (
    SELECT o.clinician, count(*) FILTER (v.arch IS NULL) AS no_arch, count(*) FILTER (v.day < o.first_day) AS before_delivery
    FROM visits v JOIN o USING (case_id)
    GROUP BY o.clinician
)
SELECT clinician, first_period, last_period, cases, patients, sites, CAST(1 AS BIGINT), coalesce(delivered, 0), CAST(coalesce(undelivered, 0) AS BIGINT), CAST(coalesce(unobserved, 0) AS BIGINT),
       median_days, coalesce(full_year, 0), coalesce(attended, 0), coalesce(no_arch, 0), coalesce(before_delivery, 0), (SELECT count(*) FROM set_aside a WHERE NOT EXISTS (SELECT 1 FROM corrected k WHERE k.of_load = a.load_id AND k.table_name = a.table_name AND k.file = a.file AND k.line = a.line AND k.column_name IS NOT DISTINCT FROM a.column_name))
FROM of_cases
LEFT JOIN of_linked USING (clinician)
LEFT JOIN of_made USING (clinician)
LEFT JOIN of_planned USING (clinician)
LEFT JOIN of_visits USING (clinician)
ORDER BY clinician
