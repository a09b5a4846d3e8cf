-- Question:   how many dentures have each habit and lack it, by arch, and how do they lie within patients?
-- Unit:       one row per habit and arch
-- Parameters: $1 habit ids joined by bars, "" for every habit; reads group_rows as habit_rows made them
-- Columns:    dimension (habit), arch, dentures with, dentures without, patients, and over patients the sums of squared
--             dentures with, of squared dentures without, and of their products
-- Order:      dimension, arch
WITH patients AS (
    SELECT dimension, arch, patient_no, count(*) FILTER (code LIKE 'with|%') AS w, count(*) FILTER (code LIKE 'without|%') AS o
    FROM group_rows
    WHERE $1 = '' OR list_contains(string_split($1, '|'), dimension)
    GROUP BY dimension, arch, patient_no
)
SELECT dimension, arch, CAST(sum(w) AS BIGINT), CAST(sum(o) AS BIGINT), count(*), CAST(sum(w * w) AS BIGINT), CAST(sum(o * o) AS BIGINT), CAST(sum(w * o) AS BIGINT)
FROM patients
GROUP BY dimension, arch
ORDER BY dimension, arch
