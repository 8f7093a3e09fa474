// Package check holds the rules that a dataset must keep, one named rule per
// file, and the decoded rows (Draft) that they are asked of.
//
// The root package ingest calls Run once per dataset, after every cell has been
// decoded to a canonical unit. All rules run in one pass, so that a reader sees
// everything that is wrong at once. A rule reports findings through issue.List;
// it never repairs a value, never reads a file and never stops the others.
package check
