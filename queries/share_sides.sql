-- Question:   how many people stand on each side of a habit, and how many of them had an outcome?
-- Unit:       one row per habit, side and outcome
-- Parameters: $1 outcome in linked_events or linked_firsts, $2 last day of its window; reads group_rows as habit_rows makes it
-- Columns:    habit, side (with or without), patients, patients with the outcome, most dentures of one patient
-- Order:      habit, side
WITH happened AS (
    SELECT DISTINCT denture_no
    FROM (SELECT outcome, denture_no, day FROM linked_events UNION ALL SELECT outcome, denture_no, day FROM linked_firsts)
    WHERE outcome = CAST($1 AS VARCHAR) AND day <= CAST($2 AS INTEGER)
), each_one AS (
    SELECT g.dimension AS habit, split_part(g.code, '|', 1) AS side, g.patient_no, count(*) AS dentures, count(h.denture_no) AS happened
    FROM group_rows g LEFT JOIN happened h USING (denture_no)
    GROUP BY ALL
)
SELECT habit, side, count(*) AS patients, count(*) FILTER (happened > 0) AS with_outcome, max(dentures) AS most_dentures
FROM each_one
GROUP BY habit, side
ORDER BY habit, side
