-- Question:   how many people stand behind an outcome in each group?
-- Unit:       one row per dimension and code
-- Parameters: $1 outcome in linked_events or linked_firsts, $2 last day of its window; reads group_rows
-- Columns:    dimension, code, dentures, patients, events, dentures with the outcome, patients with it, patients with a denture without it
-- Order:      dimension, code
WITH happened AS (
    SELECT denture_no, count(*) AS n
    FROM (SELECT outcome, denture_no, day FROM linked_events UNION ALL SELECT outcome, denture_no, day FROM linked_firsts)
    WHERE outcome = CAST($1 AS VARCHAR) AND day <= CAST($2 AS INTEGER)
    GROUP BY denture_no
)
SELECT g.dimension, g.code, count(*) AS dentures, count(DISTINCT g.patient_no) AS patients, CAST(coalesce(sum(h.n), 0) AS BIGINT) AS events,
       count(h.n) AS with_dentures, count(DISTINCT g.patient_no) FILTER (h.n IS NOT NULL) AS with_patients,
       count(DISTINCT g.patient_no) FILTER (h.n IS NULL) AS without_patients
FROM group_rows g LEFT JOIN happened h USING (denture_no)
GROUP BY g.dimension, g.code
ORDER BY g.dimension, g.code
