// Package acceptance holds the tests of the whole way, from files to result
// tables: hand-worked values, simulated runs with known truth, published data,
// and the same data in other units and formats. It has no code of its own.
package acceptance
