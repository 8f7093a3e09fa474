package mapping

import (
	"sheetwash/ingest/issue"
	"sheetwash/ingest/units"
)

// Entry is one row of the catalogue of codes.
type Entry struct {
	Code     issue.Code
	Severity issue.Severity
	Meaning  string // what was found
	Advice   string // what to do
}

// Catalogue returns every code of this package and of units, with its severity,
// its meaning and what to do. The caller must not write to it.
func Catalogue() []Entry { return catalogue }

var catalogue = []Entry{
	{ColumnMissing, issue.Error, "a required column is not there", "add it, rename the column that holds it, or name that in mapping.yaml"},
	{ColumnDuplicate, issue.Error, "two headers stand for the same column", "rename or remove one of them"},
	{ColumnUnused, issue.Note, "a column that nothing reads", "rename it if it is meant to be one of the data dictionary's"},
	{ColumnCovariate, issue.Note, "a column of plots that the data dictionary does not name; it is kept as a covariate", "rename it if it is meant to be one of the dictionary's"},
	{ReadingsForm, issue.Error, "a table of readings has both forms, one row per reading and one column per channel", "keep one of them"},

	{units.UnknownUnit, issue.Error, "a unit that is not known", "write a UCUM code such as mm/h in brackets behind the column's name"},
	{units.OtherKind, issue.Error, "a unit of another quantity than the column's", "correct the unit or the column's name"},
	{UnitDefault, issue.Note, "no unit is stated and the column's default is taken", "state the unit in the header, as in volume [mL]"},
	{UnitConflict, issue.Error, "header and field metadata state different units", "make them agree"},
	{UnitMissing, issue.Warning, "no unit is stated for an analyte", "state it in the header, as in analyte_nitrate [mg/L]"},
	{UnitIgnored, issue.Note, "a unit in the header of a column of text", "none, if the column is meant to be text"},
	{units.USGallon, issue.Note, "gallons, quarts, pints and fluid ounces are taken for the US ones", "write impgal for the imperial gallon"},
	{units.Ton, issue.Note, "a ton is taken for the short ton of 2000 lb", "write t for the tonne of 1000 kg"},
	{units.PartsPer, issue.Note, "ppm is taken for mg/L", "convert high concentrations beforehand: at 10000 ppm the difference is 0.62 %"},
	{units.LetterCase, issue.Note, "a capital M that by UCUM is mega is taken for milli", "write mL or mm"},

	{Syntax, issue.Error, "a mapping file is not YAML or not of the shape of its reference", "correct the line; docs/formats.md has the reference"},
	{UnknownKey, issue.Error, "a mapping file has a key or a column name that is not known", "correct the spelling; the finding lists what is known"},
	{BadValue, issue.Error, "a mapping file has a value that its key does not take", "correct the value as the finding says"},
	{NoSuchFile, issue.Error, "a mapping file names a file that the dataset does not have", "correct the name or add the file"},
	{NoSuchColumn, issue.Error, "a mapping file names a header that the file does not have", "write the header as it stands in the file"},
	{JoinKey, issue.Error, "a key of a join stands in more than one row of the joined file (error), or in none (warning)", "make the key identify one row, or add the row"},

	{PackageSyntax, issue.Error, "a datapackage.json is not JSON or not of the shape of a Data Package", "correct the line"},
	{PackageValue, issue.Error, "a datapackage.json has a property that cannot be used as it stands", "correct it as the finding says"},
	{PackageResource, issue.Note, "a resource of a datapackage.json is no table of the data dictionary", "name it after one if it is meant to be read"},
}
