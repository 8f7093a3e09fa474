package store

import (
	"context"
	"fmt"
)

var seasonList = listing[Season]{
	from:    "seasons WHERE 1 = 1",
	columns: "id, name, time_zone, units, published, revision, created_at, updated_at",
	id:      "id",
	season:  "id",
	filters: map[string][]string{"seasons": {"id"}},
	changed: "updated_at",
	sorts:   map[string]sortBy{"name": {column: "name"}, "created": {"created_at", true}},
	read: func(scan scanner) (s Season, err error) {
		return s, scan(&s.ID, &s.Name, &s.TimeZone, &s.Units, &s.Published, &s.Revision, instant{&s.CreatedAt}, instant{&s.UpdatedAt})
	},
}

// Seasons lists seasons. Filters: Seasons, ChangedSince. Sorts: id, name, created.
func (r *Reader) Seasons(ctx context.Context, s Scope, f Filter, p Page) (List[Season], error) {
	return seasonList.page(ctx, r, s, f, p)
}

// Season returns one season, or ErrNotFound.
func (r *Reader) Season(ctx context.Context, s Scope, id string) (Season, error) {
	return seasonList.get(ctx, r, s, id)
}

// CreateSeason writes a new season; ID, times and revision are given by the store.
func (t *Tx) CreateSeason(ctx context.Context, new Season) (Season, error) {
	now := t.now()
	new.ID, new.Revision, new.CreatedAt, new.UpdatedAt = NewID(), 1, now, now
	q := statement{}
	q.add("INSERT INTO seasons ("+seasonList.columns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		new.ID, new.Name, new.TimeZone, new.Units, new.Published, new.Revision, micros(now), micros(now))
	if _, err := t.exec(ctx, q); err != nil {
		return Season{}, fmt.Errorf("write the season: %w", err)
	}
	return new, nil
}

// UpdateSeason replaces name, time zone, units and published of the season with
// the given ID and Revision. Errors: ErrNotFound, ErrRevision.
func (t *Tx) UpdateSeason(ctx context.Context, s Scope, changed Season) (Season, error) {
	q := statement{}
	q.add("UPDATE seasons SET name = ?, time_zone = ?, units = ?, published = ?, ", changed.Name, changed.TimeZone, changed.Units, changed.Published)
	q.revise(t.now())
	if err := changeOne(ctx, t, &seasonList, s, q, changed.ID, changed.Revision); err != nil {
		return Season{}, fmt.Errorf("change the season: %w", err)
	}
	return t.Season(ctx, s.owned(), changed.ID)
}

// DeleteSeason deletes a season that has no events, no datasets (nor tombstones of
// them) and no analyses. Errors: ErrNotFound, ErrRevision, ErrConflict.
func (t *Tx) DeleteSeason(ctx context.Context, s Scope, id string, revision int64) error {
	if err := t.lock(ctx, "seasons", id); err != nil {
		return err
	}
	q := statement{}
	q.add("SELECT id FROM events WHERE season_id = ? UNION ALL SELECT id FROM datasets WHERE season_id = ? UNION ALL SELECT id FROM analyses WHERE season_id = ? LIMIT 1", id, id, id)
	if err := deleteOne(ctx, t, &seasonList, s, q, "seasons", id, revision); err != nil {
		return fmt.Errorf("delete the season: %w", err)
	}
	return nil
}
