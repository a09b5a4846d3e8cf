-- Question:   how do dentures and events spread over case mix, clinician, arch and each habit?
-- Unit:       one row per comparison and combination of case mix, clinician, arch and the comparison's habit
-- Parameters: none; each comparison brings its number, its habit's column and how its case mix is numbered; reads pair_rows
-- Columns:    task, mix (the number of the combination of levels), clinician_no, upper, exposed (NULL where it cannot be assessed), n;
--             sums of y, share, y squared, y share, share squared; share of those with an event
-- Order:      none; readers group
-- What a denture is counted by is one number, since grouping by one is far faster than by four, and each comparison is
-- grouped by itself, since fewer groups stay at hand. A share is at most 1, that is 10^9 billionths, so that its square
-- still is a whole 64-bit number.
CREATE OR REPLACE TEMP TABLE pair_groups AS
SELECT task, key // (6 * {{.Clinicians}}) AS mix, CAST(key // 6 % {{.Clinicians}} AS INTEGER) AS clinician_no,
       key // 3 % 2 = 1 AS upper, CASE key % 3 WHEN 0 THEN false WHEN 1 THEN true END AS exposed,
       n, y, share_e9, yy, y_share_e9, share_share_e18, share_hit_e9
FROM (
{{- range $i, $t := .Of}}
    {{if $i}}UNION ALL {{end}}SELECT {{.No}} AS task, key, count(*) AS n, sum(y) AS y, sum(share_e9) AS share_e9, sum(y * y) AS yy, sum(y * share_e9) AS y_share_e9, sum(share_e9 * share_e9) AS share_share_e18,
           sum(CASE WHEN y > 0 THEN share_e9 ELSE 0 END) AS share_hit_e9
    FROM (
        SELECT y, share_e9, (CAST(clinician_no * 2 + CAST(upper AS INTEGER) AS BIGINT){{range .Mix}} + CAST({{.Weight}} AS BIGINT) * {{.Code}}{{end}}) * 3 + coalesce(CAST({{.Exposure}} AS INTEGER), 2) AS key
        FROM pair_rows
    )
    GROUP BY key
{{- end}}
)
