-- Question:   how often was each habit shown at each site in each period of records?
-- Unit:       one row per habit, site, period and whether a denture stands for its case
-- Parameters: none; reads mix_rows and mix_cells
-- Columns:    habit, site, period, leads (TRUE for one denture of each case: the upper, or the lower where there is no upper),
--             assessed and present, counted in dentures; where leads, that is in cases too
-- Order:      habit, site, period, leads
WITH uppers AS (SELECT DISTINCT case_id FROM linked_dentures WHERE arch = 'upper'),
wide AS (
    SELECT c.place, l.arch = 'upper' OR u.case_id IS NULL AS leads, COLUMNS('^h_')
    FROM linked_dentures l JOIN mix_rows m USING (denture_no) JOIN mix_cells c USING (cell) LEFT JOIN uppers u ON u.case_id = l.case_id
    WHERE c.place > 0
),
-- One number holds both counts, so that the wide table is turned only when it is small.
cells AS (SELECT place, leads, count(COLUMNS('^h_')) * 4294967296 + count_if(COLUMNS('^h_')) FROM wide GROUP BY place, leads),
long AS (UNPIVOT cells ON COLUMNS('^h_') INTO NAME habit VALUE counts)
SELECT habit[3:], p.site, p.period, leads, CAST(counts // 4294967296 AS BIGINT), CAST(counts % 4294967296 AS BIGINT)
FROM long
JOIN (SELECT DISTINCT place, site, period FROM mix_cells) p USING (place)
ORDER BY habit, p.site, p.period, leads
