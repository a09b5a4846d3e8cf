-- Question:   which cases of other patients are nearest to one case, and what became of them?
-- Unit:       one row per case
-- Parameters: $1 case_id, $2 days that every denture was followed at least (or was remade, or the patient died), $3 most cases
-- Columns:    case_id; how far it lies: classes of ridge, prior denture other or not, steps of age band, sex other or not, freeway space and
--             largest clearance in steps of half a millimetre (-1 where only one of the two cases has the value); days of the shortest
--             follow-up, adjustment visits, early sore spots, arches remade and arches relined or rebased, joined by a bar
-- Order:      those distances one after the other, then case_id. Both without a value counts as equal; only one without it as furthest.
-- Only cases with the same set of arches take part.
WITH outcomes AS (
    SELECT denture_no, sum(n) FILTER (outcome = 'adjustment_visits') AS visits, sum(n) FILTER (outcome = 'early_sore_spots') AS spots
    FROM linked_events
    GROUP BY denture_no
), shapes AS (
    SELECT d.case_id, max(d.patient_no) AS patient_no, string_agg(d.arch, '+' ORDER BY d.arch) AS arches, max(d.ridge_class) AS ridge, max(d.prior_denture) AS prior,
           max(list_position(['<50', '50-59', '60-69', '70-79', '80-89', '90+'], d.age_band)) AS age, max(d.sex) AS sex,
           CAST(round(2 * max(d.freeway_mm)) AS INTEGER) AS freeway, CAST(round(2 * max(d.clearance_max_mm)) AS INTEGER) AS clearance,
           min(d.risk_days) AS followed, bool_and(d.risk_days >= CAST($2 AS INTEGER) OR d.end_reason IN ('remade', 'died')) AS complete,
           sum(o.visits) AS visits, sum(o.spots) AS spots,
           string_agg(d.arch, '|' ORDER BY d.arch DESC) FILTER (d.end_reason = 'remade') AS remade,
           string_agg(d.arch, '|' ORDER BY d.arch DESC) FILTER (f.day IS NOT NULL) AS relined
    FROM linked_dentures d
    LEFT JOIN outcomes o USING (denture_no)
    LEFT JOIN linked_firsts f ON f.denture_no = d.denture_no AND f.outcome = 'reline'
    GROUP BY d.case_id
), far AS (
    SELECT n.*, 
           CASE WHEN n.ridge IS NULL AND o.ridge IS NULL THEN 0 ELSE coalesce(abs(n.ridge - o.ridge), -1) END AS ridge_far,
           CAST(n.prior IS DISTINCT FROM o.prior AS INTEGER) AS prior_far,
           CASE WHEN n.age IS NULL AND o.age IS NULL THEN 0 ELSE coalesce(abs(n.age - o.age), -1) END AS age_far,
           CAST(n.sex IS DISTINCT FROM o.sex AS INTEGER) AS sex_far,
           CASE WHEN n.freeway IS NULL AND o.freeway IS NULL THEN 0 ELSE coalesce(abs(n.freeway - o.freeway), -1) END AS freeway_far,
           CASE WHEN n.clearance IS NULL AND o.clearance IS NULL THEN 0 ELSE coalesce(abs(n.clearance - o.clearance), -1) END AS clearance_far
    FROM shapes o
    JOIN shapes n ON n.arches = o.arches AND n.patient_no <> o.patient_no AND n.complete
    WHERE o.case_id = CAST($1 AS VARCHAR)
)
SELECT case_id, ridge_far, prior_far, age_far, sex_far, freeway_far, clearance_far, followed,
       CAST(coalesce(visits, 0) AS BIGINT), CAST(coalesce(spots, 0) AS BIGINT), coalesce(remade, ''), coalesce(relined, '')
FROM far
ORDER BY ridge_far < 0, ridge_far, prior_far, age_far < 0, age_far, sex_far, freeway_far < 0, freeway_far, clearance_far < 0, clearance_far, case_id
LIMIT CAST($3 AS BIGINT)
