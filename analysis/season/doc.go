// Package season turns plot results into treatment results: within each event,
// over the events of each season, and over all.
//
// Package analysis calls Summarise once all plots are done. Its input is one
// headline value per plot, run and metric, so samples of a run can't become
// replicates; repeated runs on one body of soil are joined before anything is
// counted. The statistics are those of package inference; this package decides
// which one a metric gets. The decision table and its reasons stand in
// docs/methods/inference.md.
//
// It also compares treatments: within each event, and over events by what they
// differ within each (docs/methods/comparisons.md), with letters for the treatment rows.
//
// It never looks at samples or hydrographs and never picks the method of a plot.
package season
