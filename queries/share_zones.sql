-- Question:   how many people had a sore spot at each place in the first days after delivery?
-- Unit:       one row per arch and zone with a spot, sides together
-- Parameters: filled with how many sides a zone has; the window is that of linked_spots
-- Columns:    upper (of the arch), zone (its number among the contract's, from 0), spots, patients, dentures delivered of that arch,
--             patients with one
-- Order:      none; the reader sorts
WITH made AS (
    SELECT denture_no % 2 = 1 AS upper, count(*) AS dentures, count(DISTINCT patient_no) AS patients FROM linked_dentures GROUP BY ALL
), sore AS (
    SELECT e.denture_no % 2 = 1 AS upper, (e.place - 1) // {{.sides}} AS zone, count(*) AS spots, count(DISTINCT d.patient_no) AS patients
    FROM linked_spots e JOIN linked_dentures d USING (denture_no)
    WHERE e.early
    GROUP BY ALL
)
SELECT s.upper, s.zone, s.spots, s.patients, m.dentures, m.patients
FROM sore s JOIN made m USING (upper)
