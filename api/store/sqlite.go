package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"github.com/gofrs/flock"
	_ "modernc.org/sqlite" // the driver "sqlite"

	"sheetwash/api/store/schema"
)

// openSQLite opens one connection that writes and a pool that only reads. The
// write-ahead log lets both work at the same time; synchronous=FULL makes a commit
// survive a power failure.
func (s *Store) openSQLite(ctx context.Context, c Config) error {
	s.dialect = SQLite
	path, err := filepath.Abs(c.SQLitePath)
	if err != nil {
		return err
	}
	if c.Exclusive {
		if err := s.lockFolder(path); err != nil {
			return err
		}
	}
	if err := migrateSQLite(ctx, path); err != nil {
		return err
	}
	s.write, err = s.pool(path, 1, "_txlock=immediate")
	if err != nil {
		return err
	}
	s.read, err = s.pool(path, max(4, runtime.GOMAXPROCS(0)), "_pragma=query_only(1)")
	s.on = s.read
	if err == nil && c.Exclusive {
		err = s.releaseAll(ctx)
	}
	return err
}

// releaseAll frees the keys of requests that were being answered when the process
// ended: the lock of the folder says that nobody answers them now, and their repetition
// need not wait for the end of a lease.
func (s *Store) releaseAll(ctx context.Context) error {
	return s.InTx(ctx, func(t *Tx) error {
		q := statement{}
		q.add("DELETE FROM idempotent_requests WHERE status IS NULL")
		_, err := t.exec(ctx, q)
		return err
	})
}

// pool opens connections to a file and closes them with the store.
func (s *Store) pool(path string, connections int, options string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", sqliteURL(path, options))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(connections)
	s.closers = append(s.closers, db)
	return db, nil
}

func sqliteURL(path, options string) string {
	u := url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(path),
		RawQuery: "_pragma=busy_timeout(5000)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=foreign_keys(1)&_dqs=0&" + options}
	return u.String()
}

// lockFolder takes the lock of the folder of a file until Close.
func (s *Store) lockFolder(path string) error {
	lock := flock.New(filepath.Join(filepath.Dir(path), "lock"))
	got, err := lock.TryLock()
	if err != nil {
		return fmt.Errorf("lock the data folder: %w", err)
	}
	if !got {
		return fmt.Errorf("%w: %s", ErrLocked, filepath.Dir(path))
	}
	s.closers = append(s.closers, lock)
	return nil
}

// migrateSQLite brings the file up to date, after a copy of it unless it is new.
func migrateSQLite(ctx context.Context, path string) (err error) {
	lock := flock.New(path + ".migrate")
	if got, err := lock.TryLockContext(ctx, 50*time.Millisecond); err != nil || !got {
		return fmt.Errorf("wait for another process that migrates: %w", err)
	}
	defer func() { err = errors.Join(err, lock.Close()) }()

	db, err := sql.Open("sqlite", sqliteURL(path, "_txlock=immediate"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	steps, err := schema.SQLite(db)
	if err != nil {
		return err
	}
	version, err := steps.Version(ctx)
	if err != nil {
		return err
	}
	switch {
	case version == schema.Current:
		return nil
	case version > schema.Current:
		return checkVersion(version)
	case version > 0:
		if err := backUp(ctx, db, fmt.Sprintf("%s.version-%d", path, version)); err != nil {
			return fmt.Errorf("copy the database before migrating it: %w", err)
		}
	}
	return steps.Up(ctx)
}

// backUp writes a whole and consistent copy and sees it onto the disk. A copy that
// is there already is of an attempt that was cut off, and is replaced.
func backUp(ctx context.Context, db *sql.DB, to string) error {
	part := to + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		return err
	}
	if err := syncPath(part); err != nil {
		return err
	}
	if err := os.Rename(part, to); err != nil {
		return err
	}
	if runtime.GOOS == "windows" { // sees the name onto the disk by itself, and can't sync a folder
		return nil
	}
	return syncPath(filepath.Dir(to))
}

func syncPath(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
