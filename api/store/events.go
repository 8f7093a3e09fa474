package store

import (
	"context"
	"fmt"
)

var eventList = listing[Event]{
	from:    "events WHERE 1 = 1",
	columns: "id, season_id, name, event_date, place, crew, simulator, revision, created_at, updated_at",
	id:      "id",
	season:  "season_id",
	filters: map[string][]string{"seasons": {"season_id"}, "events": {"id", "name"}},
	at:      "date_at",
	changed: "updated_at",
	sorts:   map[string]sortBy{"name": {column: "name"}, "date": {column: "event_date"}, "created": {"created_at", true}},
	read: func(scan scanner) (e Event, err error) {
		return e, scan(&e.ID, &e.SeasonID, &e.Name, &e.Date, &e.Place, &e.Crew, &e.Simulator, &e.Revision, instant{&e.CreatedAt}, instant{&e.UpdatedAt})
	},
}

// Events lists events. Filters: Seasons, Events, From, To, ChangedSince. Sorts: id,
// name, date, created.
func (r *Reader) Events(ctx context.Context, s Scope, f Filter, p Page) (List[Event], error) {
	return eventList.page(ctx, r, s, f, p)
}

// Event returns one event, or ErrNotFound.
func (r *Reader) Event(ctx context.Context, s Scope, id string) (Event, error) {
	return eventList.get(ctx, r, s, id)
}

// CreateEvent writes a new event of a season in scope, else ErrNotFound.
func (t *Tx) CreateEvent(ctx context.Context, s Scope, new Event) (Event, error) {
	if _, err := t.Season(ctx, s.owned(), new.SeasonID); err != nil {
		return Event{}, fmt.Errorf("find the season: %w", err)
	}
	now := t.now()
	new.ID, new.Revision, new.CreatedAt, new.UpdatedAt = NewID(), 1, now, now
	q := statement{}
	q.add("INSERT INTO events ("+eventList.columns+", date_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		new.ID, new.SeasonID, new.Name, new.Date, new.Place, new.Crew, new.Simulator, new.Revision, micros(now), micros(now), instantOf(new.Date))
	if _, err := t.exec(ctx, q); err != nil {
		return Event{}, fmt.Errorf("write the event: %w", gone(err))
	}
	return new, nil
}

// UpdateEvent replaces everything but season and times of the event with the given
// ID and Revision. Errors: ErrNotFound, ErrRevision.
func (t *Tx) UpdateEvent(ctx context.Context, s Scope, changed Event) (Event, error) {
	q := statement{}
	q.add("UPDATE events SET name = ?, event_date = ?, date_at = ?, place = ?, crew = ?, simulator = ?, ",
		changed.Name, changed.Date, instantOf(changed.Date), changed.Place, changed.Crew, changed.Simulator)
	q.revise(t.now())
	if err := changeOne(ctx, t, &eventList, s, q, changed.ID, changed.Revision); err != nil {
		return Event{}, fmt.Errorf("change the event: %w", err)
	}
	return t.Event(ctx, s.owned(), changed.ID)
}

// DeleteEvent deletes an event without datasets and tombstones of them. Errors:
// ErrNotFound, ErrRevision, ErrConflict.
func (t *Tx) DeleteEvent(ctx context.Context, s Scope, id string, revision int64) error {
	if err := t.lock(ctx, "events", id); err != nil {
		return err
	}
	q := statement{}
	q.add("SELECT id FROM datasets WHERE event_id = ? LIMIT 1", id)
	if err := deleteOne(ctx, t, &eventList, s, q, "events", id, revision); err != nil {
		return fmt.Errorf("delete the event: %w", err)
	}
	return nil
}
