//go:build !race

package columnar_test

// How many mutations of each format the corpus has, and what the reader may take.
const (
	ipcMutations     = 600 // in this process
	parquetMutations = 150 // two children each
	corpusBytes      = 64 << 20
)
