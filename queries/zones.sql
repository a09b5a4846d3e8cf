-- Question:   where were sore spots seen in the first days after delivery?
-- Unit:       one row per arch, zone and side with a spot
-- Parameters: none; the window is that of linked_events; reads zone_spots
-- Columns:    arch, zone, side ("" not recorded), spots, dentures delivered of that arch
-- Order:      arch, zone, side
WITH sums AS (
    SELECT CASE WHEN upper THEN 'upper' ELSE 'lower' END AS arch, place, CAST(sum(spots) AS BIGINT) AS spots FROM zone_spots GROUP BY upper, place
), made AS (
    SELECT arch, count(*) AS dentures FROM linked_dentures GROUP BY arch
)
SELECT s.arch, p.zone, p.side, s.spots, m.dentures
FROM sums s
JOIN zone_places p USING (place)
JOIN made m USING (arch)
ORDER BY s.arch, p.zone, p.side
