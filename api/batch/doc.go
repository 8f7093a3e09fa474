// Package batch is the main job: datasets in, findings and result rows out.
//
// The command line runs it over a folder, the service over uploads; both make
// the same calls in the same order, so that they give the same numbers:
//
//	datasets, _ := request.Read(ctx, source)          // each dataset alone
//	calibrations := batch.Calibrations(all)           // the catch cans of all
//	dataset.RefuseUncalibrated(calibrations)          // what only the season can tell
//	part, _ := request.Analyse(ctx, dataset, calibrations)
//	analysis, _ := request.Fold(parts)                // treatments over all datasets
//
// It never opens a socket, and writes no file but the temporary ones of ingest.
package batch
