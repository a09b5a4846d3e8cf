-- Question:   which sites take repeats?
-- Unit:       one row per site with single readings
-- Parameters: none; reads linked_repeats
-- Columns:    site, takes_repeats (at least half of its cases with single readings have two of one measure)
-- Order:      none; readers state their own
CREATE OR REPLACE TEMP TABLE link_houses AS
SELECT site, 2 * count(*) FILTER (most_takes > 1) >= count(*) AS takes_repeats FROM linked_repeats GROUP BY site
