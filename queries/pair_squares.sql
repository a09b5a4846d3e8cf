-- Question:   what are the variances of the ratios and differences made of, with the dentures of a patient counting together?
-- Unit:       one row
-- Parameters: $1 fits by cell in its order (from 0): for the comparison within clinicians, crude, and within
--             clinicians for its arch alone, the exposed side's share of the events (empty where the cell has no part in it) and
--             the events per unit of size without and with the habit, and the latter two by case mix, second. Fields joined by commas, cells by
--             semicolons. $2 within, $3 by case mix and $4 crude: the events per share with the habit. Reads pair_sized
-- Columns:    patients, clinicians, the sums over patients of the squared scores within, in upper, in lower, by mix, crude; of the
--             squared pulls on the exposed rate, within, by mix, crude; of the products of score and pull on the exposed rate,
--             likewise; and the sum over clinicians of the squared scores within
-- Order:      one row
-- Each score is rounded to a whole number of billionths, so that sums are the same in any order.
WITH cells AS (
    SELECT cell, CAST(nullif(f[1], '') AS DOUBLE) AS ws, CAST(f[2] AS DOUBLE) AS w0, CAST(f[3] AS DOUBLE) AS w1,
           CAST(f[4] AS DOUBLE) AS m0, CAST(f[5] AS DOUBLE) AS m1,
           CAST(nullif(f[6], '') AS DOUBLE) AS cs, CAST(f[7] AS DOUBLE) AS c0, CAST(f[8] AS DOUBLE) AS c1,
           CAST(nullif(f[9], '') AS DOUBLE) AS a_s, CAST(f[10] AS DOUBLE) AS a0, CAST(f[11] AS DOUBLE) AS a1
    FROM (SELECT generate_subscripts(string_split($1, ';'), 1) - 1 AS cell, string_split(unnest(string_split($1, ';')), ',') AS f)
), scored AS (
    SELECT r.patient_no, r.clinician_no, r.upper, r.exposed, r.y, r.share_e9 / 1e9 AS share,
           (CAST(r.exposed AS INTEGER) - c.ws) * (r.y - r.size_e9 / 1e9 * CASE WHEN r.exposed THEN c.w1 ELSE c.w0 END) AS w,
           (CAST(r.exposed AS INTEGER) - r.lean) * (r.y - r.size_e9 / 1e9 * CASE WHEN r.exposed THEN c.m1 ELSE c.m0 END) AS m,
           (CAST(r.exposed AS INTEGER) - c.cs) * (r.y - r.share_e9 / 1e9 * CASE WHEN r.exposed THEN c.c1 ELSE c.c0 END) AS c,
           (CAST(r.exposed AS INTEGER) - c.a_s) * (r.y - r.size_e9 / 1e9 * CASE WHEN r.exposed THEN c.a1 ELSE c.a0 END) AS a
    FROM pair_sized r
    JOIN cells c USING (cell)
), pulled AS (
    SELECT *,
           CASE WHEN NOT exposed THEN 0 * w WHEN w IS NOT NULL THEN y - share * CAST($2 AS DOUBLE) END AS rw,
           CASE WHEN exposed THEN y - share * CAST($3 AS DOUBLE) ELSE 0 END AS rm,
           CASE WHEN NOT exposed THEN 0 * c WHEN c IS NOT NULL THEN y - share * CAST($4 AS DOUBLE) END AS rc
    FROM scored
), whole AS (
    SELECT patient_no, clinician_no, upper,
           CAST(round(1e9 * w) AS BIGINT) AS w, CAST(round(1e9 * m) AS BIGINT) AS m, CAST(round(1e9 * c) AS BIGINT) AS c, CAST(round(1e9 * a) AS BIGINT) AS a,
           CAST(round(1e9 * rw) AS BIGINT) AS rw, CAST(round(1e9 * rm) AS BIGINT) AS rm, CAST(round(1e9 * rc) AS BIGINT) AS rc
    FROM pulled
), clustered AS (
    SELECT patient_no, clinician_no, count(w) AS dentures, sum(w) AS w, sum(m) AS m, sum(c) AS c,
           sum(a) FILTER (upper) AS upper, sum(a) FILTER (NOT upper) AS lower,
           sum(rw) AS rw, sum(rm) AS rm, sum(rc) AS rc
    FROM whole
    GROUP BY GROUPING SETS ((patient_no), (clinician_no))
), squared AS (
    SELECT clinician_no, dentures, w * w AS w, upper * upper AS upper, lower * lower AS lower, m * m AS m, c * c AS c, rw * rw AS rw, rm * rm AS rm, rc * rc AS rc, w * rw AS wr, m * rm AS mr, c * rc AS cr
    FROM clustered
)
SELECT count(*) FILTER (clinician_no IS NULL AND dentures > 0) AS patients, count(*) FILTER (clinician_no IS NOT NULL AND dentures > 0) AS clinicians,
       CAST(coalesce(sum(COLUMNS(* EXCLUDE (clinician_no, dentures))) FILTER (clinician_no IS NULL), 0) AS DOUBLE) / 1e18,
       CAST(coalesce(sum(w) FILTER (clinician_no IS NOT NULL), 0) AS DOUBLE) / 1e18 AS by_clinician
FROM squared
