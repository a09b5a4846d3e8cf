-- Question:   which countable events of one kind happened to each denture, and when?
-- Unit:       one row per event (an adjustment visit or a sore spot) of the dentures with these numbers
-- Parameters: filled with the outcome, and the first and last number of a denture
-- Columns:    one whole number: that of the denture times 2^32, the day (from delivery) times 2^20, the place (of a sore spot, as in
--             link_sore) times 2^12, and the minutes (of a visit)
-- Order:      none; the reader adds them up
SELECT CAST(denture_no AS BIGINT) * 4294967296 + CAST(day AS BIGINT) * 1048576 +
{{- if eq .Outcome "early_sore_spots"}} CAST(place AS BIGINT) * 4096 FROM linked_sore WHERE early
{{- else}} minutes FROM linked_adjusted WHERE TRUE
{{- end}} AND denture_no BETWEEN {{.First}} AND {{.Last}}
