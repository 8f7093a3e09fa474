package store

import (
	"context"
	"fmt"
)

var auditList = listing[AuditEntry]{
	from:    "audit_log WHERE 1 = 1",
	columns: "seq, at, season_id, caller, action, object, detail",
	id:      "seq",
	season:  "season_id",
	filters: map[string][]string{"seasons": {"season_id"}},
	at:      "at",
	sorts:   map[string]sortBy{"id": {"seq", true}},
	read: func(scan scanner) (e AuditEntry, err error) {
		return e, scan(&e.Seq, instant{&e.At}, &e.SeasonID, &e.Caller, &e.Action, &e.Object, &e.Detail)
	},
}

// AppendAudit adds a line to the audit log; Seq and At are given by the store.
func (t *Tx) AppendAudit(ctx context.Context, e AuditEntry) error {
	q := statement{}
	q.add("INSERT INTO audit_log (at, season_id, caller, action, object, detail) VALUES (?, ?, ?, ?, ?, ?)",
		micros(t.now()), e.SeasonID, e.Caller, e.Action, e.Object, e.Detail)
	if _, err := t.exec(ctx, q); err != nil {
		return fmt.Errorf("write the audit log: %w", err)
	}
	return nil
}

// Audit lists the log. Filters: Seasons, From, To. Sorts: id (that is Seq).
func (r *Reader) Audit(ctx context.Context, s Scope, f Filter, p Page) (List[AuditEntry], error) {
	return auditList.page(ctx, r, s.owned(), f, p)
}
