-- Question:   when did each yes/no outcome first happen to a denture?
-- Unit:       one row per denture and outcome that happened during follow-up (whatever the window)
-- Parameters: filled with codes and the places of codes
-- Columns:    outcome, denture_no, arch, day (days from the denture's own delivery, delivery day = 0)
-- Order:      none; readers state their own
CREATE OR REPLACE VIEW linked_firsts AS
SELECT outcome, denture_no, CASE denture_no % 2 WHEN 1 THEN 'upper' ELSE 'lower' END AS arch, day
FROM (SELECT 'first_adjustment' AS outcome, denture_no, min(day) AS day FROM linked_seen WHERE adjusted GROUP BY denture_no
      UNION ALL
      SELECT 'planned_visit', denture_no, min(day) FROM linked_seen WHERE planned GROUP BY denture_no
      UNION ALL
      SELECT 'display_complaint', denture_no, min(day) FROM linked_seen WHERE of_display GROUP BY denture_no
      UNION ALL
      SELECT 'vertical_complaint', denture_no, min(day) FROM linked_seen WHERE of_vertical GROUP BY denture_no
      UNION ALL
      SELECT 'any_ulcer', denture_no, min(day) FROM linked_spots WHERE ulcer GROUP BY denture_no
      UNION ALL
      SELECT 'remake', denture_no, end_day - delivered_day FROM linked_made WHERE {{.place.end_reason.In "codes"}} = {{.end_reason.No "remade"}}
      UNION ALL
      SELECT 'reline', denture_no, relined_day FROM linked_made WHERE relined_day IS NOT NULL)
