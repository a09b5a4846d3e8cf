-- Question:   with which windows and thresholds are the linked tables built?
-- Unit:       one row
-- Parameters: $1-$3 days, $4-$12 millimetres, in the order of the columns
-- Columns:    adjustment_days, sore_days, late_delivery_days, freeway_low_mm, freeway_high_mm, clearance_low_mm,
--             clearance_high_mm, clearance_uneven_mm, adds_up_mm, palate_bulk_mm, display_far_mm, repeats_apart_mm
-- Order:      none, one row
CREATE OR REPLACE TABLE link_settings AS
SELECT CAST($1 AS INTEGER) AS adjustment_days, CAST($2 AS INTEGER) AS sore_days, CAST($3 AS INTEGER) AS late_delivery_days,
       CAST($4 AS DECIMAL(6,2)) AS freeway_low_mm, CAST($5 AS DECIMAL(6,2)) AS freeway_high_mm,
       CAST($6 AS DECIMAL(6,2)) AS clearance_low_mm, CAST($7 AS DECIMAL(6,2)) AS clearance_high_mm,
       CAST($8 AS DECIMAL(6,2)) AS clearance_uneven_mm, CAST($9 AS DECIMAL(6,2)) AS adds_up_mm,
       CAST($10 AS DECIMAL(6,2)) AS palate_bulk_mm, CAST($11 AS DECIMAL(6,2)) AS display_far_mm, CAST($12 AS DECIMAL(6,2)) AS repeats_apart_mm
