package rig

import "sheetwash/ingest/issue"

// The codes of this package. They are stable: a code never changes its meaning.
const (
	Syntax     issue.Code = "profile.syntax"
	UnknownKey issue.Code = "profile.unknown"
	BadValue   issue.Code = "profile.value"
	BadDrops   issue.Code = "profile.drops"
)

// Entry is a row of the catalogue of codes.
type Entry struct {
	Code            issue.Code
	Meaning, Advice string
}

// Catalogue returns the codes of this package, which all are errors. The caller
// must not write to it.
func Catalogue() []Entry { return catalogue }

var catalogue = []Entry{
	{Syntax, "simulator.yaml cannot be read as YAML", "correct the line that the finding names"},
	{UnknownKey, "simulator.yaml holds a key that does not exist", "correct the key; the finding lists those that exist"},
	{BadValue, "a value of simulator.yaml cannot be used, or lacks its unit", "correct it, and write numbers with their unit, such as 41 kPa"},
	{BadDrops, "the table of drop sizes that simulator.yaml names cannot be used", "correct the file, or give counts and edges in simulator.yaml"},
}
