-- Question:   which events fell to each denture on which day?
-- Unit:       one row per denture and day with an event
-- Parameters: none; the dimensions come from the list; reads cohort
-- Columns:    patient_no, day (from delivery), visits, minutes, spots, and the codes' numbers as in cohort
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE cohort_events AS
SELECT c.patient_no, e.day, e.visits, e.minutes, e.spots
{{- range .Dimensions}}, c.c{{.No}}{{end}}
FROM (
    SELECT denture_no, day, CAST(coalesce(sum(n) FILTER (outcome = 'adjustment_visits'), 0) AS INTEGER) AS visits,
           CAST(coalesce(sum(n) FILTER (outcome = 'chair_minutes'), 0) AS INTEGER) AS minutes,
           CAST(coalesce(sum(n) FILTER (outcome = 'early_sore_spots'), 0) AS INTEGER) AS spots
    FROM linked_events
    GROUP BY denture_no, day
) e
JOIN cohort c USING (denture_no)
