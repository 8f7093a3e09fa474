// Package deps holds the test that says which package may import which. The
// table in rules_test.go is the architecture as data, with a reason per line;
// what it does not allow does not pass.
package deps
