// Package derivation is the tree that shows how a value came about: its
// equation, the inputs of the equation, each with where it was read or with a
// tree of its own, what was left out, and the published source.
//
// The packages of methods build the trees of their values, analysis joins them,
// and the command line and the service show them. An equation is text for people
// that a program can evaluate as well, so that a tree can be checked against its
// value; Check does. It is a leaf: it knows nothing of plots or files and
// computes no result.
package derivation
