-- Question:   what do each clinician's own figures stand on?
-- Unit:       one row per clinician with a case
-- Parameters: $1 days within which a planned visit counts as attended; filled with the marks of visits
-- Columns:    clinician, then as coverage has them
-- Order:      clinician
WITH of_dentures AS (
    SELECT case_id, min(delivered_day) AS first_day, max(delivered_day) AS last_day, count(delivered_day) AS delivered, count(*) - count(delivered_day) AS undelivered
    FROM dentures GROUP BY case_id -- two at the most, one of each arch
), o AS MATERIALIZED ( -- visits are many: each meets its case once
    SELECT c.case_id, n.no AS clinician_no, f.first_day, coalesce(f.undelivered, 0) AS undelivered,
           CASE WHEN f.first_day > c.observed_to_day THEN f.delivered WHEN f.last_day > c.observed_to_day THEN 1 ELSE 0 END AS unobserved
    FROM cases c
    JOIN linked_names n ON n.field = 'clinician' AND n.name = c.clinician
    LEFT JOIN of_dentures f USING (case_id)
), of_cases AS (
    SELECT clinician_no, min(r.name) AS first_period, max(r.name) AS last_period, count(*) AS cases,
           count(DISTINCT patient_no) AS patients, count(DISTINCT site_no) AS sites
    FROM linked_cases JOIN linked_names r ON r.field = 'records_on' AND r.no = records_no
    GROUP BY clinician_no
), planned AS (
    SELECT DISTINCT CAST(seen >> 32 AS INTEGER) AS denture_no
    FROM linked_visits WHERE seen & {{.marks.planned}} > 0 AND seen >> 16 & 65535 <= CAST($1 AS INTEGER)
), of_linked AS (
    SELECT c.clinician_no, count(*) AS delivered, CAST(median(d.end_day - d.delivered_day) AS DOUBLE) AS median_days, count(*) FILTER (d.end_day - d.delivered_day >= 365) AS full_year,
           count(p.denture_no) AS attended
    FROM linked_made d
    JOIN linked_cases c ON c.case_no = d.denture_no - d.denture_no % 2
    LEFT JOIN planned p ON p.denture_no = d.denture_no
    GROUP BY c.clinician_no
), of_made AS (
    SELECT clinician_no, sum(undelivered) AS undelivered, sum(unobserved) AS unobserved FROM o GROUP BY clinician_no
), of_visits AS (
    SELECT o.clinician_no, count(*) FILTER (v.arch IS NULL) AS no_arch, count(*) FILTER (v.day < o.first_day) AS before_delivery
    FROM visits v JOIN o USING (case_id)
    GROUP BY o.clinician_no
)
SELECT w.name AS clinician, first_period, last_period, cases, patients, sites, CAST(1 AS BIGINT), coalesce(delivered, 0), CAST(coalesce(undelivered, 0) AS BIGINT), CAST(coalesce(unobserved, 0) AS BIGINT),
       median_days, coalesce(full_year, 0), coalesce(attended, 0), coalesce(no_arch, 0), coalesce(before_delivery, 0), (SELECT count(*) FROM set_aside a WHERE NOT EXISTS (SELECT 1 FROM corrected k WHERE k.of_load = a.load_id AND k.table_name = a.table_name AND k.file = a.file AND k.line = a.line AND k.column_name IS NOT DISTINCT FROM a.column_name))
FROM of_cases
JOIN linked_names w ON w.field = 'clinician' AND w.no = clinician_no
LEFT JOIN of_linked USING (clinician_no)
LEFT JOIN of_made USING (clinician_no)
LEFT JOIN of_visits USING (clinician_no)
ORDER BY clinician
