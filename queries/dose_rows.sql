-- Question:   what does each denture with a measured value bring to the curve of one outcome?
-- Unit:       one row per denture of outcome_rows in which the value was recorded
-- Parameters: none; the column of the value and those of case mix are filled in; reads outcome_rows
-- Columns:    denture_no, patient_no, stratum (number of clinician and arch), upper, key (of the combination of case mix, as in
--             dose_mixes), value_e2 (hundredths of a mm), y, share_e9
-- Order:      none; readers group
CREATE OR REPLACE TEMP TABLE dose_rows AS
WITH people AS (
    SELECT clinician, CAST(row_number() OVER (ORDER BY clinician) - 1 AS INTEGER) AS clinician_no
    FROM (SELECT DISTINCT clinician FROM linked_dentures)
), coded AS (
    SELECT denture_no, clinician, arch = 'upper' AS upper, hash({{range $i, $c := .Columns}}{{if $i}}, {{end}}{{$c}}{{end}}) AS key, CAST(round({{.Value}} * 100) AS INTEGER) AS value_e2
    FROM linked_dentures
    WHERE {{.Value}} IS NOT NULL
)
SELECT o.denture_no, o.patient_no, p.clinician_no * 2 + CAST(c.upper AS INTEGER) AS stratum, c.upper, c.key, c.value_e2, o.y, o.share_e9
FROM outcome_rows o
JOIN coded c USING (denture_no)
JOIN people p USING (clinician)
