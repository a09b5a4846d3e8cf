-- Question:   which patients of the cases to be linked have no number yet, and which do they get?
-- Unit:       one row per patient without a number
-- Parameters: none; reads due_cases, link_base and linked_patients, into which it goes
-- Columns:    patient_key, patient_no
-- Order:      none; no figure depends on who has which number
-- A number stays with its key for as long as the linked tables are not built anew. Its last digit is drawn from the key
-- by MD5, so that whoever deals patients into two, five or ten parts by number deals a patient into the same part whatever
-- else was loaded, and in whatever order.
SELECT patient_key,
       CAST((SELECT patient_tens FROM link_base) + 10 * row_number() OVER () + CAST(CAST(md5_number(patient_key) >> 64 AS UBIGINT) % 10 AS INTEGER) AS INTEGER) AS patient_no
FROM (SELECT DISTINCT patient_key FROM due_cases WHERE patient_key NOT IN (SELECT patient_key FROM linked_patients))
