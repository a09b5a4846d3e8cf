package intake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// refused writes the rows that would be set aside all the same, if it was asked to:
// to correct them is what the refusal asks for.
func (l *loader) refused(ctx context.Context, c *sql.Conn, err error) error {
	var r *Refusal
	if !errors.As(err, &r) {
		return err
	}
	if err := l.writeAside(ctx, c); err != nil {
		return err
	}
	r.SetAsideIn = l.res.SetAsideIn
	return r
}

// limit refuses an export of which too much would be set aside.
func (l *loader) limit(ctx context.Context, c *sql.Conn) error {
	share := l.opt.SetAsideLimit
	if share == 0 {
		share = DefaultSetAsideLimit
	}
	if l.opt.Strict {
		share = 0
	}
	if len(l.res.SetAside) == 0 {
		return nil
	}
	for _, g := range l.stages {
		var aside int64
		if err := c.QueryRowContext(ctx, "SELECT count(*) FROM main.set_aside WHERE load_id = ? AND table_name = ?", l.res.LoadID, g.t.Name).Scan(&aside); err != nil {
			return err
		}
		if aside == 0 {
			continue
		}
		read := g.sheet.Records + int64(len(g.sheet.Rejected))
		if float64(aside) > share*float64(read) {
			return &Refusal{Faults: l.res.SetAside, More: l.res.MoreSetAside, Reason: fmt.Sprintf(
				"nothing was loaded: %d of %d rows of %s would be set aside, more than the %g %% allowed%s", aside, read, g.t.Name, 100*share, l.unknownWords())}
		}
	}
	return nil
}

// giveUp ends a load that stored nothing. The rows that were in its way stay where
// they were asked for; of any other failure nothing stays.
func (l *loader) giveUp(err error) error {
	var r *Refusal
	if errors.As(err, &r) && r.SetAsideIn != "" {
		return errors.Join(err, l.aside.settle())
	}
	l.aside.discard()
	return err
}
