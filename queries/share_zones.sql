-- Question:   how many people had a sore spot at each place in the first days after delivery?
-- Unit:       one row per arch and zone with a spot, sides together
-- Parameters: none; the window is that of linked_events
-- Columns:    arch, zone, spots, patients, dentures delivered of that arch, patients with one
-- Order:      arch, zone
SELECT d.arch, p.zone, count(*) AS spots, count(DISTINCT d.patient_no) AS patients,
       (SELECT count(*) FROM linked_dentures n WHERE n.arch = d.arch) AS dentures,
       (SELECT count(DISTINCT n.patient_no) FROM linked_dentures n WHERE n.arch = d.arch) AS arch_patients
FROM linked_dentures d
CROSS JOIN link_settings s
JOIN visits v ON v.case_id = d.case_id AND (v.arch = d.arch OR v.arch = 'both') AND v.day BETWEEN d.delivered_day AND least(d.end_day, d.delivered_day + s.sore_days)
JOIN sore_spots p ON p.visit_id = v.visit_id AND p.arch = d.arch
GROUP BY d.arch, p.zone
ORDER BY d.arch, p.zone
