package store

import "context"

func readTable(scan scanner) (t ResultTable, err error) {
	return t, scan(&t.AnalysisID, &t.Table, &t.Encoding, &t.Blob, &t.Bytes, &t.Rows)
}

// ResultTables returns the places of the tables of an analysis, by table and
// encoding; none until it is successful. ErrNotFound for the analysis.
func (r *Reader) ResultTables(ctx context.Context, s Scope, id string) ([]ResultTable, error) {
	if _, err := r.Analysis(ctx, s, id); err != nil {
		return nil, err
	}
	q := statement{}
	q.add("SELECT analysis_id, table_name, encoding, blob, bytes, row_count FROM result_tables WHERE analysis_id = ? ORDER BY table_name, encoding", id)
	return all(ctx, r, q, readTable)
}

// ResultTable returns the place of one encoding of one table, or ErrNotFound.
func (r *Reader) ResultTable(ctx context.Context, s Scope, id, table, encoding string) (ResultTable, error) {
	q := statement{}
	q.add("SELECT t.analysis_id, t.table_name, t.encoding, t.blob, t.bytes, t.row_count "+
		"FROM result_tables AS t JOIN analyses AS a ON a.id = t.analysis_id "+
		"WHERE t.analysis_id = ? AND t.table_name = ? AND t.encoding = ? AND ", id, table, encoding)
	q.scope("a.season_id", s)
	return one(ctx, r, q, readTable)
}

// LatestResults returns, for each accepted dataset of a season (empty: of every
// season in scope), the newest successful analysis that has its part, by dataset.
func (r *Reader) LatestResults(ctx context.Context, s Scope, seasonID string) ([]LatestResult, error) {
	q := statement{}
	q.add("SELECT season_id, dataset_id, analysis_id FROM (" +
		"SELECT a.season_id, p.dataset_id, p.analysis_id, ROW_NUMBER() OVER (PARTITION BY p.dataset_id ORDER BY a.created_at DESC, a.id DESC) AS place " +
		"FROM analysis_datasets AS p JOIN analyses AS a ON a.id = p.analysis_id JOIN datasets AS d ON d.id = p.dataset_id " +
		"WHERE a.state = 'successful' AND p.state = 'done' AND d.state = 'accepted' AND ")
	q.scope("a.season_id", s)
	if seasonID != "" {
		q.add(" AND a.season_id = ?", seasonID)
	}
	q.add(") AS ranked WHERE place = 1 ORDER BY dataset_id")
	return all(ctx, r, q, func(scan scanner) (l LatestResult, err error) {
		return l, scan(&l.SeasonID, &l.DatasetID, &l.AnalysisID)
	})
}
