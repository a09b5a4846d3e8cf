-- Question:   which cases needed most more, or most fewer, adjustment visits than dentures like theirs?
-- Unit:       one row per case whose dentures were all followed through the window or remade within it
-- Parameters: $1 1 for more, -1 for fewer; $2 how many like dentures are enough; $3 last day of the window; $4 most cases;
--             reads outcome_rows of adjustment visits
-- Columns:    case_id
-- Order:      visits beyond those expected, most first; case_id
-- A denture's expected visits are its share fallen due times the visits per share of dentures of its arch, ridge class and prior
-- denture, or of its arch where those are too few. Two dentures are added at the most, so the sum knows no order.
WITH followed AS (
    SELECT d.case_id, d.arch, coalesce(d.ridge_class, 0) AS ridge, coalesce(d.prior_denture, '') AS prior, o.y, o.share_e9,
           d.risk_days >= CAST($3 AS INTEGER) OR d.end_reason = 'remade' AS complete
    FROM outcome_rows o
    JOIN linked_dentures d USING (denture_no)
), cells AS (
    SELECT arch, ridge, prior, count(*) AS n, CAST(sum(y) AS DOUBLE) / CAST(sum(share_e9) AS DOUBLE) AS rate FROM followed GROUP BY arch, ridge, prior
), arches AS (
    SELECT arch, CAST(sum(y) AS DOUBLE) / CAST(sum(share_e9) AS DOUBLE) AS rate FROM followed GROUP BY arch
), compared AS (
    SELECT f.case_id, sum(f.y - f.share_e9 * CASE WHEN c.n >= CAST($2 AS BIGINT) THEN c.rate ELSE a.rate END) AS beyond, bool_and(f.complete) AS complete
    FROM followed f
    JOIN cells c USING (arch, ridge, prior)
    JOIN arches a USING (arch)
    GROUP BY f.case_id
)
SELECT case_id
FROM compared
WHERE complete AND beyond * CAST($1 AS INTEGER) > 0
ORDER BY round(beyond * CAST($1 AS INTEGER), 6) DESC, case_id
LIMIT CAST($4 AS BIGINT)
