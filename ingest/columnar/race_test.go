//go:build race

package columnar_test

// The race detector takes memory of its own, which the limit of a child counts,
// and starts a child a hundred times as slowly: fewer of them, with more room.
const (
	ipcMutations     = 150
	parquetMutations = 15
	corpusBytes      = 1 << 30
)
