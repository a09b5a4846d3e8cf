package review

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"

	"afterfit/internal/store"
)

// The names under which a store keeps the findings of its last review, and what they are of.
const (
	keptKey   = "findings"
	keptOfKey = "findings_of"
)

// Reviewed gives the findings of a store: those that it keeps of its last review, where
// that was of the same loads with the same settings by the same program, or else those of
// Run, which it keeps. Fresh asks Run in any case. Rows that were changed past the ledger
// are not noticed, as with KnownFingerprint; fresh sees them.
//
// Findings pass through their JSON form either way, so that whatever is made of them is
// the same to the byte whether they were kept or not.
func Reviewed(ctx context.Context, st *store.Store, s Settings, h Header, fresh bool) (*Findings, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	of, err := keptOf(ctx, st, s)
	if err != nil {
		return nil, err
	}
	if !fresh {
		if f, err := kept(ctx, st, of); err != nil || f != nil {
			if f != nil {
				f.Version, f.AsOf = h.Version, h.AsOf
			}
			return f, err
		}
	}
	f, err := Run(ctx, st, s, h)
	if err != nil {
		return nil, err
	}
	raw, err := json.Marshal(f)
	if err != nil {
		return nil, err
	}
	err = atOnce(ctx, func() error {
		_ = keep(ctx, st, of, raw) // a store that cannot be written to keeps nothing, which is no fault
		return nil
	}, func() (err error) {
		f, err = ReadFindings(raw)
		return err
	})
	return f, err
}

// Forget drops kept findings that are not of the present loads, so that a store does not
// keep what was taken back.
func Forget(ctx context.Context, st *store.Store) error {
	have, err := st.Meta(ctx, keptOfKey)
	if err != nil || have == "" {
		return err
	}
	loads, err := keptLoads(ctx, st)
	if err != nil || strings.HasPrefix(have, loads) {
		return err
	}
	return keep(ctx, st, "", nil)
}

// kept reads the findings that the store keeps of what is named; nil where it keeps none.
// What cannot be read is none.
func kept(ctx context.Context, st *store.Store, of string) (*Findings, error) {
	have, err := st.Meta(ctx, keptOfKey)
	if err != nil || have != of {
		return nil, err
	}
	text, err := st.Meta(ctx, keptKey)
	if err != nil {
		return nil, err
	}
	packed, err := gzip.NewReader(base64.NewDecoder(base64.StdEncoding, strings.NewReader(text)))
	if err != nil {
		return nil, nil //nolint:nilerr // damaged: worked out anew
	}
	raw, err := io.ReadAll(packed)
	if err != nil {
		return nil, nil //nolint:nilerr // likewise; the checksum of gzip tells
	}
	f, err := ReadFindings(raw)
	if err != nil {
		return nil, nil //nolint:nilerr // likewise
	}
	return f, nil
}

// keep notes findings and what they are of.
func keep(ctx context.Context, st *store.Store, of string, raw []byte) error {
	var text bytes.Buffer
	if of != "" {
		base := base64.NewEncoder(base64.StdEncoding, &text)
		packed, err := gzip.NewWriterLevel(base, gzip.BestSpeed)
		if err != nil {
			return err
		}
		_, err = packed.Write(raw)
		if err = errors.Join(err, packed.Close(), base.Close()); err != nil {
			return err
		}
	}
	return st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		return errors.Join(st.SetMeta(ctx, c, keptKey, text.String()), st.SetMeta(ctx, c, keptOfKey, of))
	})
}

// keptOf names everything that findings depend on: first the loads, then the rows, the
// settings and the program.
func keptOf(ctx context.Context, st *store.Store, s Settings) (string, error) {
	loads, err := keptLoads(ctx, st)
	if err != nil {
		return "", err
	}
	rows, err := st.KnownFingerprint(ctx)
	if err != nil {
		return "", err
	}
	program, err := programSum()
	if err != nil {
		return "", err
	}
	rest, err := json.Marshal(struct { // settings leave these two out of their own form
		Settings Settings
		Standard *Standard
		Changes  []Change
	}{s, s.Standard, s.Changes})
	if err != nil {
		return "", err
	}
	return loads + fmt.Sprintf(" %x", sha256.Sum256([]byte(rows+"\n"+program+"\n"+string(rest)))), nil
}

// keptLoads names the loads that stand.
func keptLoads(ctx context.Context, st *store.Store) (string, error) {
	loads, err := standingLoads(ctx, st.DB())
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	for _, l := range loads {
		fmt.Fprintln(sum, l.id, l.content.String, l.basis.String, l.invented, l.complete)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// programSum tells this program from any other, an earlier build of the same version
// included: the SHA-256 of its file.
var programSum = sync.OnceValues(func() (string, error) {
	path, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer func() { _ = f.Close() }() // it was only read
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
})
