-- Question:   how many events did each denture have, and how many does its case mix lead to expect at its follow-up?
-- Unit:       one row per delivered denture
-- Parameters: $1 expected events in the whole window by pattern from 1, in billionths, joined by commas; reads mix_due
-- Columns:    patient_no, cell, y, share_e9, e_e9 (expected events in billionths, so that sums are exact); all 0 where nothing was due yet
-- Order:      none; readers state their own
-- Share times rate over a billion, to the nearest whole number, is worked out for whole events and for the rest, so that 64 bits hold it.
CREATE OR REPLACE TEMP TABLE mix_expected AS
WITH rates AS MATERIALIZED (SELECT CAST(string_split($1, ',') AS BIGINT[]) AS e9)
SELECT patient_no, cell, y, share_e9,
       CAST(share_e9 * (e9[pattern] // 1000000000) + (share_e9 * (e9[pattern] % 1000000000) + 500000000) // 1000000000 AS BIGINT) AS e_e9
FROM mix_due, rates
