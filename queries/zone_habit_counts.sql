-- Question:   how many sore spots has each place with a habit and without it, and how do they lie within patients?
-- Unit:       one row per habit, arch, zone and side with a spot on either side
-- Parameters: $1 habit ids joined by bars, "" for every habit; reads group_rows as habit_rows made them, and zone_spots
-- Columns:    dimension (habit), arch, zone, side, spots with, spots without, and over patients the sums of products: spots with by itself,
--             spots without by itself, spots with by spots without, spots with by dentures with, spots with by dentures without,
--             spots without by dentures with, spots without by dentures without
-- Order:      dimension, arch, zone, side
WITH chosen AS (
    SELECT dimension, arch, patient_no, denture_no, code LIKE 'with|%' AS is_with
    FROM group_rows
    WHERE $1 = '' OR list_contains(string_split($1, '|'), dimension)
), patients AS (
    SELECT dimension, arch, patient_no, count(*) FILTER (is_with) AS w, count(*) FILTER (NOT is_with) AS o
    FROM chosen
    GROUP BY dimension, arch, patient_no
), sore AS (
    SELECT c.dimension, c.arch, z.zone, z.side, c.patient_no,
           coalesce(sum(z.spots) FILTER (c.is_with), 0) AS bw, coalesce(sum(z.spots) FILTER (NOT c.is_with), 0) AS bo
    FROM chosen c
    JOIN zone_spots z USING (denture_no)
    GROUP BY c.dimension, c.arch, z.zone, z.side, c.patient_no
)
SELECT dimension, arch, zone, side, CAST(sum(bw) AS BIGINT), CAST(sum(bo) AS BIGINT),
       CAST(sum(bw * bw) AS BIGINT), CAST(sum(bo * bo) AS BIGINT), CAST(sum(bw * bo) AS BIGINT),
       CAST(sum(bw * w) AS BIGINT), CAST(sum(bw * o) AS BIGINT), CAST(sum(bo * w) AS BIGINT), CAST(sum(bo * o) AS BIGINT)
FROM sore
JOIN patients USING (dimension, arch, patient_no)
GROUP BY dimension, arch, zone, side
ORDER BY dimension, arch, zone, side
