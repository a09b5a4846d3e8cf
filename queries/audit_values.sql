-- Question:   which lengths and counts were recorded for one case, and how far do they spread in the house?
-- Unit:       one row per field (and arch, for the tray); fields that nobody recorded are absent
-- Parameters: $1 case_id
-- Columns:    arch ("" for the case as a whole), field, value (NULL not recorded), 5th, 50th and 95th percentile of every case loaded
--             (linear interpolation), n behind them
-- Order:      the case's own fields, then upper, then lower; field as the contract orders it
WITH own AS (
    SELECT case_id, CAST(coalesce(freeway_mm, vdr_mm - vdo_mm) AS DOUBLE) AS freeway_mm, CAST(vdr_mm AS DOUBLE) AS vdr_mm, CAST(vdo_mm AS DOUBLE) AS vdo_mm,
           CAST(lip_mm AS DOUBLE) AS lip_mm, CAST(display_target_mm AS DOUBLE) AS display_target_mm, CAST(centric_takes AS DOUBLE) AS centric_takes
    FROM records
), tray AS (
    SELECT case_id, arch, CAST(clearance_min_mm AS DOUBLE) AS clearance_min_mm, CAST(clearance_max_mm AS DOUBLE) AS clearance_max_mm,
           CASE WHEN arch = 'upper' THEN CAST(palate_mm AS DOUBLE) END AS palate_mm, CAST(tries AS DOUBLE) AS tries
    FROM trays
), long AS (
    SELECT case_id, '' AS arch, field, value
    FROM (UNPIVOT own ON freeway_mm, vdr_mm, vdo_mm, lip_mm, display_target_mm, centric_takes INTO NAME field VALUE value)
    UNION ALL
    SELECT case_id, arch, field, value
    FROM (UNPIVOT tray ON clearance_min_mm, clearance_max_mm, palate_mm, tries INTO NAME field VALUE value)
), house AS (
    SELECT arch, field, quantile_cont(value, [0.05, 0.5, 0.95]) AS q, count(*) AS n
    FROM long
    GROUP BY arch, field
)
SELECT h.arch, h.field, l.value, h.q[1], h.q[2], h.q[3], h.n
FROM house h
LEFT JOIN long l ON l.case_id = CAST($1 AS VARCHAR) AND l.arch = h.arch AND l.field = h.field
WHERE h.arch = '' OR h.arch IN (SELECT arch FROM dentures WHERE case_id = CAST($1 AS VARCHAR))
ORDER BY CASE h.arch WHEN '' THEN 0 WHEN 'upper' THEN 1 ELSE 2 END,
         list_position(['freeway_mm', 'vdr_mm', 'vdo_mm', 'lip_mm', 'display_target_mm', 'centric_takes', 'clearance_min_mm', 'clearance_max_mm', 'palate_mm', 'tries'], h.field)
