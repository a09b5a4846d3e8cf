-- Question:   how do dentures of one patient vary together?
-- Unit:       one row per comparison and the cells and sides of two dentures of one patient, a before b
-- Parameters: none; each comparison brings its number, its habit's column and how its case mix is numbered; reads pair_rows and pair_scores
-- Columns:    task, cell_a, exposed_a, cell_b, exposed_b, twos (pairs of patients with two dentures); the sums over pairs of the
--             products of a and b: y y, y share, share y, share share, y size, size y, size size, share size, size share; and with m, the score
--             by case mix, and r, the pull on the rate with the habit: of m m, and of m r + r m
-- Order:      task, cell_a, exposed_a, cell_b, exposed_b
-- What is no whole number is rounded to billionths by combination, so that sums are the same in any order.
WITH places AS (
    SELECT *, CAST(clinician_no * 2 + CAST(upper AS INTEGER) AS BIGINT) AS place, CAST(y AS BIGINT) AS events FROM pair_rows
), grouped AS (
    SELECT key_a, key_b, sum(twos) AS twos, sum(yy) AS yy, sum(ys_e9) / 1e9 AS ys, sum(sy_e9) / 1e9 AS sy, sum(ss_e18) / 1e18 AS ss
    FROM (
        SELECT a.events * b.events AS yy, a.events * b.share_e9 AS ys_e9, a.share_e9 * b.events AS sy_e9, a.share_e9 * b.share_e9 AS ss_e18, CAST(a.dentures = 2 AS BIGINT) AS twos,
               unnest([{{range $i, $t := .Of}}{{if $i}},
                       {{end}}((a.place{{range .Mix}} + CAST({{.Weight}} AS BIGINT) * a.{{.Code}}{{end}}) * 2 + CAST(a.{{.Exposure}} AS INTEGER)) * {{$.Tasks}} + {{.No}}{{end}}]) AS key_a,
               unnest([{{range $i, $t := .Of}}{{if $i}},
                       {{end}}((b.place{{range .Mix}} + CAST({{.Weight}} AS BIGINT) * b.{{.Code}}{{end}}) * 2 + CAST(b.{{.Exposure}} AS INTEGER)) * {{$.Tasks}} + {{.No}}{{end}}]) AS key_b
        FROM places a
        JOIN places b ON b.patient_no = a.patient_no AND a.denture_no < b.denture_no
    )
    WHERE key_a IS NOT NULL AND key_b IS NOT NULL
    GROUP BY key_a, key_b
), mates AS (
    SELECT * EXCLUDE (key_a, key_b), CAST(key_a % {{.Tasks}} AS INTEGER) AS task,
           key_a // ({{.Tasks}} * 4 * {{.Clinicians}}) AS mix_a, CAST(key_a // ({{.Tasks}} * 4) % {{.Clinicians}} AS INTEGER) AS clinician_a, key_a // ({{.Tasks}} * 2) % 2 = 1 AS upper_a, key_a // {{.Tasks}} % 2 = 1 AS exposed_a,
           key_b // ({{.Tasks}} * 4 * {{.Clinicians}}) AS mix_b, CAST(key_b // ({{.Tasks}} * 4) % {{.Clinicians}} AS INTEGER) AS clinician_b, key_b // ({{.Tasks}} * 2) % 2 = 1 AS upper_b, key_b // {{.Tasks}} % 2 = 1 AS exposed_b
    FROM grouped
), scored AS (
    SELECT m.*, a.rate AS rate_a, b.rate AS rate_b, a.exposed_rate,
           (clinician_a * 2 + CAST(upper_a AS INTEGER)) * a.bands + a.band AS cell_a, (clinician_b * 2 + CAST(upper_b AS INTEGER)) * b.bands + b.band AS cell_b,
           CAST(exposed_a AS INTEGER) - CASE WHEN upper_a THEN a.lean_upper ELSE a.lean_lower END AS above_a,
           CAST(exposed_b AS INTEGER) - CASE WHEN upper_b THEN b.lean_upper ELSE b.lean_lower END AS above_b,
           a.rate * CASE WHEN upper_a THEN a.base_upper ELSE a.base_lower END * CASE WHEN exposed_a THEN a.ratio ELSE 1 END AS fitted_a,
           b.rate * CASE WHEN upper_b THEN b.base_upper ELSE b.base_lower END * CASE WHEN exposed_b THEN b.ratio ELSE 1 END AS fitted_b
    FROM mates m
    JOIN pair_scores a ON a.task = m.task AND a.mix = m.mix_a
    JOIN pair_scores b ON b.task = m.task AND b.mix = m.mix_b
), multiplied AS (
    SELECT *, above_a * above_b * (yy - fitted_b * ys - fitted_a * sy + fitted_a * fitted_b * ss) AS mm,
           CASE WHEN exposed_b THEN above_a * (yy - exposed_rate * ys - fitted_a * sy + fitted_a * exposed_rate * ss) ELSE 0 END
           + CASE WHEN exposed_a THEN above_b * (yy - fitted_b * ys - exposed_rate * sy + exposed_rate * fitted_b * ss) ELSE 0 END AS mr
    FROM scored
)
SELECT task, cell_a, exposed_a, cell_b, exposed_b, CAST(sum(twos) AS BIGINT) AS twos, CAST(sum(yy) AS DOUBLE) AS yy,
       CAST(sum(CAST(round(1e9 * ys) AS BIGINT)) AS DOUBLE) / 1e9 AS ys, CAST(sum(CAST(round(1e9 * sy) AS BIGINT)) AS DOUBLE) / 1e9 AS sy,
       CAST(sum(CAST(round(1e9 * ss) AS BIGINT)) AS DOUBLE) / 1e9 AS ss, CAST(sum(CAST(round(1e9 * ys * rate_b) AS BIGINT)) AS DOUBLE) / 1e9 AS yz,
       CAST(sum(CAST(round(1e9 * sy * rate_a) AS BIGINT)) AS DOUBLE) / 1e9 AS zy, CAST(sum(CAST(round(1e9 * ss * rate_a * rate_b) AS BIGINT)) AS DOUBLE) / 1e9 AS zz,
       CAST(sum(CAST(round(1e9 * ss * rate_b) AS BIGINT)) AS DOUBLE) / 1e9 AS sz, CAST(sum(CAST(round(1e9 * ss * rate_a) AS BIGINT)) AS DOUBLE) / 1e9 AS zs,
       CAST(sum(CAST(round(1e9 * mm) AS BIGINT)) AS DOUBLE) / 1e9 AS mm, CAST(sum(CAST(round(1e9 * mr) AS BIGINT)) AS DOUBLE) / 1e9 AS mr
FROM multiplied
GROUP BY task, cell_a, exposed_a, cell_b, exposed_b
ORDER BY task, cell_a, exposed_a, cell_b, exposed_b
