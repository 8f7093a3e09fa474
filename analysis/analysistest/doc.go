// Package analysistest hands the worked examples of published sources to the
// tests of the methods, and draws the coverage studies. Tests import it and nothing else does; it holds no
// expected number of its own.
package analysistest
