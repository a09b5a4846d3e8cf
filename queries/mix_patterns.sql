-- Question:   how many dentures of each case-mix pattern had how many events?
-- Unit:       one row per pattern, fold, completeness of follow-up and number of events
-- Parameters: $1 number of folds that patients are dealt into, $2 whether the outcome counts once; reads mix_rows and outcome_rows
-- Columns:    pattern, fold (from 0), whole (followed to the end of the window, or to an outcome that counts once), y, n (dentures), share_e9 (their shares, summed)
-- Order:      pattern, fold, whole, y
SELECT m.pattern, CAST(o.patient_no % CAST($1 AS INTEGER) AS INTEGER) AS fold, o.share_e9 >= 1000000000 OR CAST($2 AS BOOLEAN) AND o.y > 0 AS whole, o.y,
       count(*) AS n, CAST(sum(o.share_e9) AS BIGINT) AS share_e9
FROM mix_rows m JOIN outcome_rows o USING (denture_no)
GROUP BY ALL
ORDER BY ALL
