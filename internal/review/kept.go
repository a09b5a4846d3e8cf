package review

import (
	"bytes"
	"cmp"
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
	"reflect"
	"runtime"
	"slices"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

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
	f, packed, err := f.passed(ctx)
	if err != nil {
		return nil, err
	}
	_ = keep(ctx, st, of, packed) // a store that cannot be written to keeps nothing, which is no fault
	return f, nil
}

// passed passes findings through their JSON form, and gives that form, packed. Lists of cases
// and units of a large service are tens of megabytes, so fields go side by side, the longest
// lists first.
func (f *Findings) passed(ctx context.Context) (*Findings, []byte, error) {
	out := &Findings{}
	from, to := reflect.ValueOf(f).Elem(), reflect.ValueOf(out).Elem()
	fields, pieces := make([]int, from.NumField()), make([][]byte, from.NumField())
	length := func(i int) int {
		if v := from.Field(i); v.Kind() == reflect.Slice {
			return v.Len()
		}
		return 0
	}
	for i := range fields {
		fields[i] = i
	}
	slices.SortStableFunc(fields, func(a, b int) int { return cmp.Compare(length(b), length(a)) })
	err := sideBySide(ctx, fields, func(i int) error {
		tag := from.Type().Field(i).Tag.Get("json")
		name, left := strings.CutSuffix(tag, ",omitempty")
		if left && from.Field(i).IsZero() {
			return nil
		}
		raw, err := json.Marshal(from.Field(i).Interface())
		if err != nil {
			return err
		}
		pieces[i] = slices.Concat([]byte(`,"`+name+`":`), raw)
		if i == 0 {
			pieces[i][0] = '{'
		}
		return json.Unmarshal(raw, to.Field(i).Addr().Interface())
	})
	if err != nil {
		return nil, nil, err
	}
	err = sideBySide(ctx, fields, func(i int) (err error) {
		if len(pieces[i]) > 0 {
			pieces[i], err = packed(pieces[i]) // a packed text of its own: they stand one behind the other
		}
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	end, err := packed([]byte("}"))
	return out, slices.Concat(append(pieces, end)...), err
}

// packed packs a text.
func packed(text []byte) ([]byte, error) {
	var out bytes.Buffer
	w, err := gzip.NewWriterLevel(&out, gzip.BestSpeed)
	if err == nil {
		_, err = w.Write(text)
		err = errors.Join(err, w.Close())
	}
	return out.Bytes(), err
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
	packed, err := base64.StdEncoding.DecodeString(text)
	if err != nil {
		return nil, nil //nolint:nilerr // damaged: worked out anew
	}
	f, err := unpack(packed)
	if err != nil {
		return nil, nil //nolint:nilerr // likewise; the checksums of gzip tell
	}
	return f, nil
}

// unpack reads findings as passed packs them: fields are read side by side while the next
// ones are unpacked.
func unpack(packed []byte) (*Findings, error) {
	from := bytes.NewReader(packed)
	text, err := gzip.NewReader(from)
	if err != nil {
		return nil, err
	}
	f := &Findings{}
	var fields errgroup.Group
	fields.SetLimit(runtime.GOMAXPROCS(0))
	ended := false
	for ; err == nil; err = text.Reset(from) {
		text.Multistream(false)
		var piece []byte
		if piece, err = io.ReadAll(text); err != nil {
			break
		}
		if ended = string(piece) == "}"; !ended && len(piece) > 0 {
			piece[0] = '{' // where a comma may stand
			fields.Go(func() error { return json.Unmarshal(append(piece, '}'), f) })
		}
	}
	if errors.Is(err, io.EOF) {
		err = nil
	}
	if err = errors.Join(err, fields.Wait()); err == nil && !ended {
		err = io.ErrUnexpectedEOF
	}
	if err != nil {
		return nil, err
	}
	return f, f.check()
}

// keep notes findings, packed, and what they are of.
func keep(ctx context.Context, st *store.Store, of string, packed []byte) error {
	return st.Tx(ctx, func(ctx context.Context, c *sql.Conn) error {
		return errors.Join(st.SetMeta(ctx, c, keptKey, base64.StdEncoding.EncodeToString(packed)), st.SetMeta(ctx, c, keptOfKey, of))
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
