-- Question:   what are the variances of curve and slope made of, with the dentures of a patient counting together?
-- Unit:       one row
-- Parameters: $1 by cell in its order (from 0), empty where the cell has no part: events per share at the value zero and what
--             the cell takes off each of the three pulls, then both for the straight line. $2 by value: value_e2, what
--             the value multiplies events by and adds to each of the three pulls, then both for the straight line. Fields joined by
--             commas, rows by semicolons. Reads dose_banded
-- Columns:    patients, and the sums over patients of the products of their pulls: 11, 12, 13, 22, 23, 33, straight line
-- Order:      one row
-- A pull is what a denture moves a coefficient by, times the events in all. Each is rounded to a whole number of
-- billionths, so that sums are the same in any order.
WITH cells AS (
    SELECT cell, CAST(f[1] AS DOUBLE) AS base, CAST(f[2] AS DOUBLE) AS q1, CAST(f[3] AS DOUBLE) AS q2, CAST(f[4] AS DOUBLE) AS q3,
           CAST(f[5] AS DOUBLE) AS line_base, CAST(f[6] AS DOUBLE) AS line_q
    FROM (SELECT generate_subscripts(string_split($1, ';'), 1) - 1 AS cell, string_split(unnest(string_split($1, ';')), ',') AS f)
    WHERE len(f) > 1
), levels AS (
    SELECT CAST(f[1] AS INTEGER) AS value_e2, CAST(f[2] AS DOUBLE) AS times, CAST(f[3] AS DOUBLE) AS p1, CAST(f[4] AS DOUBLE) AS p2, CAST(f[5] AS DOUBLE) AS p3,
           CAST(f[6] AS DOUBLE) AS line_times, CAST(f[7] AS DOUBLE) AS line_p
    FROM (SELECT string_split(unnest(string_split($2, ';')), ',') AS f)
), left_over AS (
    SELECT r.patient_no, c.q1, c.q2, c.q3, c.line_q, v.p1, v.p2, v.p3, v.line_p,
           r.y - r.share_e9 / 1e9 * c.base * v.times AS beyond, r.y - r.share_e9 / 1e9 * c.line_base * v.line_times AS line_beyond
    FROM dose_banded r
    JOIN cells c USING (cell)
    JOIN levels v USING (value_e2)
), pulls AS (
    SELECT CAST(sum(CAST(round(1e9 * (p1 + q1) * beyond) AS BIGINT)) AS HUGEINT) AS a, CAST(sum(CAST(round(1e9 * (p2 + q2) * beyond) AS BIGINT)) AS HUGEINT) AS b,
           CAST(sum(CAST(round(1e9 * (p3 + q3) * beyond) AS BIGINT)) AS HUGEINT) AS c, CAST(sum(CAST(round(1e9 * (line_p + line_q) * line_beyond) AS BIGINT)) AS HUGEINT) AS d
    FROM left_over
    GROUP BY patient_no
)
SELECT count(*) AS patients, CAST(coalesce(sum(a * a), 0) AS DOUBLE) / 1e18, CAST(coalesce(sum(a * b), 0) AS DOUBLE) / 1e18, CAST(coalesce(sum(a * c), 0) AS DOUBLE) / 1e18,
       CAST(coalesce(sum(b * b), 0) AS DOUBLE) / 1e18, CAST(coalesce(sum(b * c), 0) AS DOUBLE) / 1e18, CAST(coalesce(sum(c * c), 0) AS DOUBLE) / 1e18,
       CAST(coalesce(sum(d * d), 0) AS DOUBLE) / 1e18
FROM pulls
