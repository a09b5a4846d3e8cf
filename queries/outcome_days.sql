-- Question:   on each day, how many dentures ended their time at risk of each outcome and how many events fell?
-- Unit:       one row per outcome and day with either
-- Parameters: none; the outcomes come from the list as in outcome_ends, which it reads
-- Columns:    no (the outcome's place in the list, from 0), day (from delivery), ends (dentures), events
-- Order:      no, day
SELECT no, day, CAST(sum(ends) AS BIGINT) AS ends, CAST(sum(events) AS BIGINT) AS events
FROM (
{{- range $i, $o := .}}
    {{if $i}}UNION ALL {{end}}SELECT {{$i}} AS no, day_{{.Name}} AS day, count(*) AS ends, {{if .Once}}sum(y_{{.Name}}){{else}}0{{end}} AS events FROM outcome_ends GROUP BY day
{{- end}}
    UNION ALL
    SELECT CASE outcome{{range $i, $o := .}}{{if not .Once}} WHEN '{{.Name}}' THEN {{$i}}{{end}}{{end}} END, day, 0, sum(n)
    FROM linked_events
    WHERE false{{range .}}{{if not .Once}} OR outcome = '{{.Name}}' AND day <= {{.Days}}{{end}}{{end}}
    GROUP BY outcome, day
)
GROUP BY no, day
ORDER BY no, day
