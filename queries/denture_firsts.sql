-- Question:   when was each denture first relined, and when remade?
-- Unit:       one row per denture and outcome that happened during follow-up (whatever the window)
-- Parameters: filled with the outcomes
-- Columns:    first, one whole number: that of the denture times 2^32, the outcome (its number among these) times 2^24, and the day (from
--             delivery)
-- Order:      none; the reader sorts
SELECT CAST(denture_no AS BIGINT) * 4294967296 + CAST({{.Of "outcome"}} AS BIGINT) * 16777216 + day AS first
FROM linked_firsts
WHERE {{.Of "outcome"}} > 0
