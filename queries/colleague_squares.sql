-- Question:   what is the cluster-robust variance of the mean cumulative function of each clinician's colleagues made of?
-- Unit:       one row per clinician
-- Parameters: none; reads colleague_marks, colleague_steps and group_rows of clinician_rows
-- Columns:    code (clinician), patients (with a denture of a colleague), squares (sum of the patients' squared pulls, unit 1)
-- Order:      code
-- A patient's pull on the colleagues of a clinician is a sum of weights over the patient's marks that
-- are not the clinician's. Its squares over all patients are everybody's, weighted by the sums of
-- products of marks (one pass over patients), less what the clinician's own patients take out:
-- with a the weight of all of a patient's marks and b that of the clinician's, a squared less
-- (a - b) squared. All sums are of whole numbers, so the result is the same as patient by patient.
WITH whole AS (
    SELECT patient_no, kind, day, CAST(sum(n) AS BIGINT) AS n FROM colleague_marks GROUP BY patient_no, kind, day
), products AS (
    SELECT a.kind AS kind_a, a.day AS day_a, b.kind AS kind_b, b.day AS day_b, sum(CAST(a.n AS HUGEINT) * b.n) AS n
    FROM whole a JOIN whole b ON b.patient_no = a.patient_no AND (b.kind, b.day) >= (a.kind, a.day)
    GROUP BY ALL
), everybody AS (
    SELECT s.grp, sum(CASE WHEN p.kind_a = p.kind_b AND p.day_a = p.day_b THEN 1 ELSE 2 END * p.n
                      * CASE p.kind_a WHEN 0 THEN -s.hazard ELSE s.inverse END * CASE p.kind_b WHEN 0 THEN -t.hazard ELSE t.inverse END) AS squares
    FROM products p
    JOIN colleague_steps s ON s.day = p.day_a
    JOIN colleague_steps t ON t.grp = s.grp AND t.day = p.day_b
    GROUP BY s.grp
), own AS ( -- the clinician's patients: b from the clinician's marks, a from all of the patient's
    SELECT o.grp, o.patient_no,
           sum(m.n * CASE m.kind WHEN 0 THEN -s.hazard ELSE s.inverse END) AS a,
           sum(CASE WHEN m.grp = o.grp THEN m.n * CASE m.kind WHEN 0 THEN -s.hazard ELSE s.inverse END ELSE 0 END) AS b,
           bool_and(m.grp = o.grp) AS alone
    FROM (SELECT DISTINCT patient_no, grp FROM colleague_marks) o
    JOIN colleague_marks m ON m.patient_no = o.patient_no
    JOIN colleague_steps s ON s.grp = o.grp AND s.day = m.day
    GROUP BY o.grp, o.patient_no
), taken AS (
    SELECT grp, sum(2 * a * b - b * b) AS squares, count(*) FILTER (alone) AS patients FROM own GROUP BY grp
)
SELECT n.code, CAST((SELECT count(DISTINCT patient_no) FROM colleague_marks) - t.patients AS BIGINT) AS patients,
       CAST(e.squares - t.squares AS DOUBLE) / 1e24 AS squares
FROM everybody e
JOIN taken t USING (grp)
JOIN (SELECT DISTINCT grp, code FROM group_rows WHERE grp > 1) n USING (grp)
ORDER BY n.code
