-- Question:   how many patients stand behind each habit that can be assessed?
-- Unit:       one row per habit
-- Parameters: none
-- Columns:    habit, patients
-- Order:      habit
WITH patients AS (
    SELECT CAST(bool_or(COLUMNS('^h_') IS NOT NULL) AS INTEGER) FROM linked_dentures GROUP BY patient_no
), counted AS (
    SELECT CAST(coalesce(sum(COLUMNS('^h_')), 0) AS BIGINT) FROM patients
)
SELECT habit[3:] AS habit, patients
FROM (UNPIVOT counted ON COLUMNS('^h_') INTO NAME habit VALUE patients)
ORDER BY habit
