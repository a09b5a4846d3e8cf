-- Question:   which dentures of other patients are like those of one case?
-- Unit:       one row per denture of the case and denture like it
-- Parameters: $1 case_id, $2 how many like dentures are enough
-- Columns:    as group_rows; dimension is like, code is the arch, a bar, and what they share beside the arch: ridge_prior (ridge class and
--             prior denture), ridge (ridge class; too few share both) or arch (too few share either). Not recorded is a class of its own.
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE group_rows AS
WITH own AS (
    SELECT arch, patient_no, ridge_class, prior_denture FROM linked_dentures WHERE case_id = CAST($1 AS VARCHAR)
), matched AS (
    SELECT n.arch, n.denture_no, n.patient_no, n.risk_days, n.end_reason,
           n.ridge_class IS NOT DISTINCT FROM o.ridge_class AS same_ridge,
           n.ridge_class IS NOT DISTINCT FROM o.ridge_class AND n.prior_denture IS NOT DISTINCT FROM o.prior_denture AS same_both
    FROM own o
    JOIN linked_dentures n ON n.arch = o.arch AND n.patient_no <> o.patient_no
), levels AS (
    SELECT arch, CASE WHEN count(*) FILTER (same_both) >= CAST($2 AS BIGINT) THEN 'ridge_prior'
                      WHEN count(*) FILTER (same_ridge) >= CAST($2 AS BIGINT) THEN 'ridge' ELSE 'arch' END AS level
    FROM matched
    GROUP BY arch
)
SELECT CAST(dense_rank() OVER (ORDER BY m.arch) AS INTEGER) AS grp, 'like' AS dimension, m.arch || '|' || l.level AS code,
       m.arch, m.denture_no, m.patient_no, m.risk_days, m.end_reason
FROM matched m
JOIN levels l USING (arch)
WHERE CASE l.level WHEN 'ridge_prior' THEN m.same_both WHEN 'ridge' THEN m.same_ridge ELSE TRUE END
