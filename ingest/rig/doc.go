// Package rig reads simulator.yaml, the profile of the simulator in use, and the
// tables of drop sizes that it names.
//
// The root package ingest calls Parse once per dataset, and package check builds
// its rules of the set-up on the profiles. What depends on a simulator is data
// here: every band comes from the file, or from Default where there is no file.
// It never judges a run, and opens no file but through the function it is given.
package rig
