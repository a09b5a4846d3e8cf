package review

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"afterfit/internal/store"
	"afterfit/queries"
)

// linkKey is the name under which the store notes what its linked tables were
// built from.
const linkKey = "linked_from"

// linkSteps build the linked tables, in order.
var linkSteps = []string{"link_dentures", "link_events", "link_firsts"}

// EnsureLinked builds the linked tables unless they already stand on the same
// loads, settings and statements.
func EnsureLinked(ctx context.Context, st *store.Store, s Settings) error {
	if err := s.Check(); err != nil {
		return err
	}
	want, err := linkedFrom(ctx, st, s)
	if err != nil {
		return err
	}
	have, err := st.Meta(ctx, linkKey)
	if err != nil || have == want {
		return err
	}
	return st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		if err := link(ctx, c, s); err != nil {
			return err
		}
		return st.SetMeta(ctx, c, linkKey, want)
	})
}

func link(ctx context.Context, c *sql.Conn, s Settings) error {
	_, err := c.ExecContext(ctx, queries.Text("link_settings"), s.AdjustmentDays, s.SoreDays, s.LateDeliveryDays,
		s.FreewayLowMM, s.FreewayHighMM, s.ClearanceLowMM, s.ClearanceHighMM, s.ClearanceUnevenMM, s.AddsUpMM, s.PalateBulkMM, s.DisplayFarMM, s.RepeatsApartMM)
	if err != nil {
		return fmt.Errorf("link_settings: %w", err)
	}
	for _, name := range linkSteps {
		if _, err := c.ExecContext(ctx, queries.Text(name)); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}

// linkedFrom names everything that the linked tables depend on. Loads are told
// apart by content and number, so a load or its undoing changes the name.
func linkedFrom(ctx context.Context, st *store.Store, s Settings) (string, error) {
	sum := sha256.New()
	if err := json.NewEncoder(sum).Encode(s); err != nil {
		return "", err
	}
	for _, name := range append([]string{"link_settings"}, linkSteps...) {
		fmt.Fprintln(sum, queries.Text(name))
	}
	rows, err := st.DB().QueryContext(ctx, queries.Text("ask_loads"))
	if err != nil {
		return "", err
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		var source, content, basis sql.NullString
		var invented, complete sql.NullBool
		if err := rows.Scan(&id, &source, &content, &basis, &invented, &complete); err != nil {
			return "", err
		}
		fmt.Fprintln(sum, id, content.String)
	}
	return hex.EncodeToString(sum.Sum(nil)), rows.Err()
}
