// Package store is the DuckDB file that afterfit keeps its cases in: opening it,
// the versions of its schema, transactions that cannot lose rows in silence, the
// ledger of loads and the fingerprint of the content.
package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/duckdb/duckdb-go/v2"
)

// Options says how a store is opened. The zero value gives the database at most 2 GB of
// memory (a store in memory: what DuckDB takes by itself), leaves threads to DuckDB and
// spills beside the store (in memory: into the system's folder for temporary files).
type Options struct {
	Memory   string // limit such as "1GB"; "" = 2 GB, or less where the machine has little
	Threads  int    // 0 = DuckDB's own
	TempDir  string // where large sorts spill
	ReadOnly bool   // never writes and never creates the file
}

// Store is an open store. It is safe for use by several goroutines; the file
// itself belongs to one process at a time.
type Store struct {
	db       *sql.DB
	path     string
	readOnly bool
	limited  bool // Options name a memory limit
}

// Open opens the store at path and creates it unless opt.ReadOnly; path "" is a
// store in memory. An error that the user can mend wraps ErrUse and says how.
func Open(ctx context.Context, path string, opt Options) (*Store, error) {
	dsn, err := checkPath(path, opt.ReadOnly)
	if err != nil {
		return nil, err
	}
	connector, err := duckdb.NewConnector(dsn, prepareConn)
	if err != nil {
		return nil, explainConnect(path, err)
	}
	s := &Store{db: sql.OpenDB(connector), path: path, readOnly: opt.ReadOnly, limited: opt.Memory != ""}
	if err := s.configure(ctx, opt); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	from, err := s.version(ctx)
	if err != nil || from > 0 && from < Version() && path != "" && !opt.ReadOnly {
		// The copy is made of a closed file: closing any other handle on an open one
		// would drop DuckDB's lock on it.
		if err = errors.Join(err, s.Close()); err != nil {
			return nil, err
		}
		if err := keepCopy(path, from); err != nil {
			return nil, err
		}
		if connector, err = duckdb.NewConnector(dsn, prepareConn); err != nil {
			return nil, explainConnect(path, err)
		}
		s.db = sql.OpenDB(connector)
		err := s.configure(ctx, opt)
		if err == nil { // another program may have brought it up meanwhile
			from, err = s.version(ctx)
		}
		if err != nil {
			return nil, errors.Join(err, s.Close())
		}
	}
	if err = s.upgrade(ctx, from, opt.ReadOnly); err == nil {
		err = s.handing(ctx)
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// Scratch opens an empty database in memory for work whose result is carried elsewhere.
// It has no tables of a store.
func Scratch(ctx context.Context, opt Options) (*Store, error) {
	connector, err := duckdb.NewConnector("", prepareConn)
	if err != nil {
		return nil, err
	}
	s := &Store{db: sql.OpenDB(connector)}
	if err := s.configure(ctx, opt); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// prepareConn holds for every connection: UTC, and nothing fetched from a network.
func prepareConn(conn driver.ExecerContext) error {
	for _, q := range []string{
		"SET TimeZone='UTC'",
		"SET autoinstall_known_extensions=false",
		"SET autoload_known_extensions=false",
	} {
		if _, err := conn.ExecContext(context.Background(), q, nil); err != nil {
			return fmt.Errorf("prepare connection (%s): %w", q, err)
		}
	}
	return nil
}

// configure sets what belongs to the whole database, once.
func (s *Store) configure(ctx context.Context, opt Options) error {
	temp := opt.TempDir
	if temp == "" && s.path != "" {
		temp = s.path + ".tmp"
		if !opt.ReadOnly {
			clearSpill(temp)
		}
	}
	if temp == "" {
		temp = filepath.Join(os.TempDir(), "afterfit-"+strconv.Itoa(os.Getpid()))
	}
	settings := []string{"SET temp_directory=" + Quote(temp)}
	if opt.Memory != "" {
		settings = append(settings, "SET memory_limit="+Quote(opt.Memory))
	}
	if opt.Threads > 0 {
		settings = append(settings, "SET threads="+strconv.Itoa(opt.Threads))
	}
	for _, q := range settings {
		if _, err := s.db.ExecContext(ctx, q); err != nil {
			return fmt.Errorf("%w: %s is no setting that DuckDB accepts: %w", ErrUse, strings.TrimPrefix(q, "SET "), err)
		}
	}
	return s.lowerMemory(ctx, mostMemory)
}

// mostMemory is what the database gets where nothing else is said, in bytes. DuckDB would
// take four fifths of the machine's memory, and fill them with blocks of the file for which
// nobody asks again, beside what the program itself holds.
const mostMemory = 2e9

// lowerMemory lowers the memory limit, unless Options name one. A store in memory keeps
// what it has, and a limit that is lower stays.
func (s *Store) lowerMemory(ctx context.Context, to int64) error {
	if s.limited || s.path == "" {
		return nil
	}
	had, err := s.Memory(ctx)
	if err != nil || had <= to {
		return err
	}
	_, err = s.db.ExecContext(ctx, fmt.Sprintf("SET memory_limit='%dB'", to))
	return err
}

// SpareMemory lowers the memory limit, from now until the store is closed, to what
// questions need: three quarters of the size of the store's file, at least 400 MB and at
// most 1 GB. What is above would only be filled with blocks of the file, each read once or
// twice, beside what a review itself holds in memory. A limit that Options name stays, and one that is
// lower; a store in memory keeps what it has.
func (s *Store) SpareMemory(ctx context.Context) error {
	if s.limited || s.path == "" {
		return nil
	}
	info, err := os.Stat(s.path)
	if err != nil {
		return err
	}
	return s.lowerMemory(ctx, min(max(400e6, info.Size()/4*3), 1e9))
}

// Memory is the database's memory limit in bytes; 0 where it cannot be told.
func (s *Store) Memory(ctx context.Context) (limit int64, err error) {
	var text string
	if err := s.db.QueryRowContext(ctx, "SELECT current_setting('memory_limit')").Scan(&text); err != nil {
		return 0, err
	}
	limit, _ = bytesOf(text)
	return limit, nil
}

// bytesOf reads a size as DuckDB writes it, such as 18.7 GiB.
func bytesOf(size string) (n int64, ok bool) {
	var value float64
	var unit string
	if _, err := fmt.Sscan(size, &value, &unit); err != nil {
		return 0, false
	}
	power := slices.Index([]string{"bytes", "KiB", "MiB", "GiB", "TiB"}, unit)
	return int64(math.Ldexp(value, 10*power)), power >= 0
}

// Close closes the store.
func (s *Store) Close() error { return s.db.Close() }

// DB is the pool of connections, for reading. Whatever writes goes through Tx.
func (s *Store) DB() *sql.DB { return s.db }

// Path is the file's path, "" for a store in memory.
func (s *Store) Path() string { return s.path }

// Checkpoint folds the write-ahead log into the file. A store in memory has none.
func (s *Store) Checkpoint(ctx context.Context) error {
	if s.path == "" {
		return nil
	}
	_, err := s.db.ExecContext(ctx, "CHECKPOINT")
	return err
}

// Tx runs fn inside one transaction on one pinned connection. It commits only
// when fn returned nil, ctx is still alive and the transaction still answers:
// DuckDB reports success for the commit of an aborted transaction and drops its
// rows, so an error that fn swallowed must be found before the commit.
func (s *Store) Tx(ctx context.Context, fn func(ctx context.Context, c *sql.Conn) error) error {
	return explainDisk(s.path, s.tx(ctx, fn))
}

func (s *Store) tx(ctx context.Context, fn func(ctx context.Context, c *sql.Conn) error) (err error) {
	c, err := s.db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	if _, err := c.ExecContext(ctx, "BEGIN TRANSACTION"); err != nil {
		return err
	}
	// The end of a transaction must not depend on a context that may be over.
	last := context.WithoutCancel(ctx)
	done := false
	defer func() {
		if !done { // an error or a panic in fn
			_, _ = c.ExecContext(last, "ROLLBACK")
		}
	}()
	if err := fn(ctx, c); err != nil {
		return err
	}
	if err := guard(ctx, c); err != nil {
		return err
	}
	if _, err := c.ExecContext(last, "COMMIT"); err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	done = true
	return nil
}

// guard fails when the transaction was aborted by an earlier error.
func guard(ctx context.Context, c *sql.Conn) error {
	var one int
	if err := c.QueryRowContext(ctx, "SELECT 1").Scan(&one); err != nil {
		return fmt.Errorf("the transaction was aborted by an earlier error, nothing was stored: %w", err)
	}
	return nil
}

// Quote writes s as an SQL string literal.
func Quote(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
