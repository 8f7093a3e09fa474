package demo

// oneTable is what a crew keeps that likes one sheet: every bottle with the
// columns of its run and its plot repeated.
func oneTable(d day) ([]File, error) {
	runs, plots, samples := d.runsGrid(metric), d.plotsGrid(metric), d.samplesGrid(metric)
	joined := grid{name: "larkmere", columns: append(append([]gridColumn{}, runs.columns...), plots.columns[1:]...)}
	joined.columns = append(joined.columns, samples.columns[2:]...)
	for _, s := range samples.rows {
		row := append([]string{}, runs.row(s[0])...)
		row = append(row, plots.row(s[0], s[1])[1:]...)
		joined.add(append(row, s[2:]...)...)
	}
	return d.csvFiles([]grid{joined}, suffixed)
}

// row returns the row that starts with the key.
func (g grid) row(key ...string) []string {
	for _, r := range g.rows {
		match := true
		for i, k := range key {
			match = match && r[i] == k
		}
		if match {
			return r
		}
	}
	return make([]string, len(g.columns))
}
