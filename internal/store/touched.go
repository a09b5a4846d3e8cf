package store

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"
	"strings"

	"afterfit/internal/bundle"
)

// CasesOf is the SQL that lists, in a column case_id, every case of which one of the
// loads brought a row or moved rows to the history; a case may be listed more than
// once. Rows move to the history by whole cases.
func CasesOf(loads []int64) string {
	numbers := make([]string, len(loads))
	for i, n := range loads {
		numbers[i] = strconv.FormatInt(n, 10)
	}
	of := "IN (" + strings.Join(numbers, ", ") + ")"
	parts := []string{fmt.Sprintf("SELECT case_id FROM %s.cases WHERE superseded_by %s", History, of)}
	for _, t := range bundle.Tables {
		if t.Parent == "visits" {
			// Nearly always the visits are of the loads as well, and are listed themselves.
			parts = append(parts, fmt.Sprintf("SELECT v.case_id FROM main.visits v JOIN (SELECT DISTINCT visit_id FROM main.%s WHERE load_id %[2]s AND visit_id NOT IN (SELECT visit_id FROM main.visits WHERE load_id %[2]s)) USING (visit_id)", t.Name, of))
		} else {
			parts = append(parts, fmt.Sprintf("SELECT case_id FROM main.%s WHERE load_id %s", t.Name, of))
		}
	}
	return strings.Join(parts, " UNION ALL ")
}

// noteUnlinked lists the cases that a load touched, before it is undone, so that they
// are linked anew. A row without a case says that the load's cases are all listed.
func noteUnlinked(ctx context.Context, c *sql.Conn, load int64) error {
	_, err := c.ExecContext(ctx, fmt.Sprintf("INSERT INTO main.unlinked SELECT %d, case_id FROM (SELECT DISTINCT case_id FROM (%s) UNION ALL SELECT NULL)", load, CasesOf([]int64{load})))
	if err != nil {
		return fmt.Errorf("note the cases of load %d: %w", load, err)
	}
	return nil
}
