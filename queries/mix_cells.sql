-- Question:   at which sites, by which clinicians, in which laboratories and periods were dentures made?
-- Unit:       one row per combination
-- Parameters: none; reads mix_wide
-- Columns:    cell (number, from 1), site, clinician, lab, period, place (number of site and period, 0 without a period)
-- Order:      none; readers state their own
-- What is counted by units and periods is counted by cell first: there are few of them.
CREATE OR REPLACE TEMP TABLE mix_cells AS
SELECT CAST(row_number() OVER (ORDER BY site, clinician, lab, period) AS INTEGER) AS cell, *,
       CASE WHEN period = '' THEN 0 ELSE CAST(dense_rank() OVER (ORDER BY site, period) AS INTEGER) END AS place
FROM (SELECT DISTINCT site, clinician, lab, period FROM mix_wide)
