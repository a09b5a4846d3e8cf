-- Question:   how many dentures of each case-mix pattern had how many events?
-- Unit:       one row per pattern, fold, completeness and number of events
-- Parameters: $1 number of folds that patients are dealt into, $2 whether the outcome counts once; reads mix_due
-- Columns:    pattern, fold (from 0), whole (followed to the end of the window, or to an outcome that counts once), y, n (dentures), share_e9 (their shares, summed)
-- Order:      all of the first four
-- A patient number ends in a digit drawn from the key, so that with five folds a patient stays in one fold as loads come in.
SELECT pattern, CAST(patient_no % CAST($1 AS INTEGER) AS INTEGER) AS fold, share_e9 >= 1000000000 OR CAST($2 AS BOOLEAN) AND y > 0 AS whole, y,
       count(*) AS n, CAST(sum(share_e9) AS BIGINT) AS share_e9
FROM mix_due
WHERE share_e9 > 0
GROUP BY ALL
ORDER BY pattern, fold, whole, y
