// Package columnar reads Arrow IPC files and streams, Feather version 2 and
// Parquet as tables of the kind that package table defines, and writes result
// tables as Arrow and Parquet. Package ingest opens files through it, package
// report writes through it; nobody else imports the Arrow library.
//
// A file is known by its first bytes, never by its name. What is wrong with a
// file becomes a finding; a hostile file can neither end the process nor take
// memory without bound:
//
//   - Arrow IPC is decoded here, by code that compares every length with the size
//     of the file before it uses it, and that fetches only the columns asked for.
//   - Parquet is decoded by the library in a child process of our own binary, with
//     limits on memory and time, because damaged pages make the library panic in
//     goroutines of its own, where no recover reaches. The child hands rows back
//     over a pipe, and its bytes are checked like those of any other file.
//
// A program that opens Parquet calls ChildMain first thing in main, and in
// TestMain of its tests.
//
// The package never judges what a cell means: it knows nothing of the data
// dictionary, and hands NaN and infinities on as they stand.
package columnar
