package ingest

import (
	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
)

// The codes of this package: what finding, opening, decoding and joining can
// report. They are stable: a code never changes its meaning.
const (
	CellNotANumber issue.Code = "cell.not_a_number"
	CellNotFinite  issue.Code = "cell.not_finite"
	CellBound      issue.Code = "cell.bound"
	CellNotATime   issue.Code = "cell.not_a_time"
	CellNotAWord   issue.Code = "cell.not_a_word"
	CellNotABool   issue.Code = "cell.not_a_bool"
	CellNotAStamp  issue.Code = "cell.not_a_stamp"
	TimeNoStart    issue.Code = "time.no_start"
	StampZone      issue.Code = "stamp.zone_default"

	RunDisagrees  issue.Code = "run.disagrees"
	PlotDisagrees issue.Code = "plot.disagrees"
	EventDefault  issue.Code = "event.default"
	RunIntensity  issue.Code = "run.intensity_from_plots"

	FileUnused      issue.Code = "file.unused"
	FileName        issue.Code = "file.name"
	TableDuplicate  issue.Code = "table.duplicate"
	TableMissing    issue.Code = "table.missing"
	TableUnknown    issue.Code = "table.unknown"
	TableTooLarge   issue.Code = "table.too_large"
	TableTooWide    issue.Code = "table.too_wide"
	DatasetNone     issue.Code = "dataset.none"
	DatasetRepeated issue.Code = "dataset.repeated"
	DatasetCopied   issue.Code = "dataset.copied"
	DatasetInvalid  issue.Code = "dataset.invalid"
	DatasetEmpty    issue.Code = "dataset.empty"
	// DatasetUnreadable: the system does not give a folder. The command line
	// reports a disk that fails later by the same code.
	DatasetUnreadable issue.Code = "dataset.unreadable"

	ZipDamaged    issue.Code = "zip.damaged"
	ZipUnsafeName issue.Code = "zip.unsafe_name"
	ZipNotAFile   issue.Code = "zip.not_a_file"
	ZipTwice      issue.Code = "zip.twice"
	ZipEncrypted  issue.Code = "zip.encrypted"
	ZipNested     issue.Code = "zip.nested"
	ZipBomb       issue.Code = "zip.bomb"

	SettingsSyntax  issue.Code = "settings.syntax"
	SettingsUnknown issue.Code = "settings.unknown"
	SettingsValue   issue.Code = "settings.value"
)

// Catalogue returns the codes of this package with severity, meaning and what
// to do. The caller must not write to it.
func Catalogue() []check.Entry { return catalogue }

func severityOf(c issue.Code) issue.Severity {
	for i := range catalogue {
		if catalogue[i].Code == c {
			return catalogue[i].Severity
		}
	}
	return issue.Error
}

var catalogue = []check.Entry{
	{Code: CellNotANumber, Severity: issue.Error, Meaning: "a cell of a number column is not a number", Advice: "correct it, empty it if nothing was measured, or declare the word as missing in mapping.yaml"},
	{Code: CellNotFinite, Severity: issue.Error, Meaning: "a number is NaN, infinite, too large, or a slope angle of 90 degrees or more", Advice: "correct it, or empty the cell if nothing was measured"},
	{Code: CellBound, Severity: issue.Error, Meaning: "a number is written as a bound, such as > 15.9", Advice: "give the number alone; for a bottle that ran over set flag to overflow"},
	{Code: CellNotATime, Severity: issue.Error, Meaning: "a time has none of the accepted forms", Advice: "write minutes from the start of rain, h:mm:ss, mm:ss, or a clock time where the run's start is given"},
	{Code: CellNotAWord, Severity: issue.Error, Meaning: "a cell holds a word that its column does not know", Advice: "use one of the words that the finding lists, or translate it in mapping.yaml"},
	{Code: CellNotABool, Severity: issue.Error, Meaning: "a cell is neither true nor false", Advice: "write true or false; yes, no, 1 and 0 will do"},
	{Code: CellNotAStamp, Severity: issue.Error, Meaning: "a date or time stamp is not ISO 8601", Advice: "write 2031-05-14 or 2031-05-14T10:05:00+01:00"},
	{Code: TimeNoStart, Severity: issue.Error, Meaning: "a clock time or stamp stands in a run whose start is not given", Advice: "fill in started of the run, or give times from the start of rain"},
	{Code: StampZone, Severity: issue.Note, Meaning: "stamps have no offset from UTC and are taken to be in UTC", Advice: "add the offset, or timezone in analysis.yaml or mapping.yaml; it matters only where stamps with and without an offset meet"},
	{Code: RunDisagrees, Severity: issue.Error, Meaning: "rows of one run disagree in a column that belongs to the run", Advice: "make the rows equal, or give the runs a table of their own"},
	{Code: PlotDisagrees, Severity: issue.Error, Meaning: "rows of one plot disagree in a column that belongs to the plot", Advice: "make the rows equal, or give the plots a table of their own"},
	{Code: EventDefault, Severity: issue.Note, Meaning: "a run has no event; the name of the dataset is taken", Advice: "fill in event where one dataset holds several field days"},
	{Code: RunIntensity, Severity: issue.Note, Meaning: "the intensity stands with the plots and is equal for all plots of a run; it is taken as the run's own, so that its error is shared by them", Advice: "nothing; or give a table of runs, if it was measured at each plot"},
	{Code: FileName, Severity: issue.Error, Meaning: "a file of an upload has a name that leads outside the dataset, or one that another file has", Advice: "give each file a name of its own below the dataset"},
	{Code: FileUnused, Severity: issue.Note, Meaning: "a file or sheet is not understood and is not read", Advice: "name it after a table, describe it in mapping.yaml, or leave it"},
	{Code: TableDuplicate, Severity: issue.Error, Meaning: "two files or sheets hold the same table", Advice: "keep one of them"},
	{Code: TableMissing, Severity: issue.Error, Meaning: "a table is missing and its required columns stand nowhere else", Advice: "add the table, or its columns to the table below it"},
	{Code: TableUnknown, Severity: issue.Error, Meaning: "the headers of the only table are not those of the data dictionary", Advice: "rename the columns, or describe them in mapping.yaml (the command map proposes one)"},
	{Code: TableTooLarge, Severity: issue.Error, Meaning: "a table has more rows than are allowed", Advice: "split the dataset; loggers belong in the table of readings, which has no limit"},
	{Code: TableTooWide, Severity: issue.Error, Meaning: "a table has more columns than the service allows", Advice: "leave out columns that are not used"},
	{Code: DatasetNone, Severity: issue.Error, Meaning: "no dataset was found", Advice: "name the tables after the data dictionary, or write a mapping.yaml beside them"},
	{Code: DatasetInvalid, Severity: issue.Error, Meaning: "numbers are each acceptable and make an impossible dataset together, such as an area that vanishes in its projection", Advice: "check the numbers that the message names"},
	{Code: DatasetEmpty, Severity: issue.Error, Meaning: "the tables have headers but hold neither a run nor a catch can", Advice: "fill in the rows"},
	{Code: DatasetUnreadable, Severity: issue.Error, Meaning: "the disk or the system failed while a dataset was being read, or a folder cannot be read or lies too deep", Advice: "try again; the message says what failed"},
	{Code: DatasetCopied, Severity: issue.Warning, Meaning: "two datasets hold the same tables, byte for byte; each counts in the results", Advice: "give one of them only"},
	{Code: DatasetRepeated, Severity: issue.Note, Meaning: "a path was given twice, or a folder together with one above it", Advice: "nothing; it is read once"},
	{Code: ZipDamaged, Severity: issue.Error, Meaning: "an archive or a member of it is damaged or cut off", Advice: "pack it again"},
	{Code: ZipUnsafeName, Severity: issue.Error, Meaning: "an archive holds a name that leads outside it", Advice: "pack the dataset again from its own folder"},
	{Code: ZipNotAFile, Severity: issue.Error, Meaning: "an archive holds a link or a device", Advice: "pack the files themselves"},
	{Code: ZipTwice, Severity: issue.Error, Meaning: "an archive holds two files of one name", Advice: "pack it again"},
	{Code: ZipEncrypted, Severity: issue.Error, Meaning: "an archive is encrypted", Advice: "pack it without a password"},
	{Code: ZipNested, Severity: issue.Error, Meaning: "an archive holds another archive", Advice: "unpack it first"},
	{Code: ZipBomb, Severity: issue.Error, Meaning: "an archive unpacks to more files or bytes than are allowed", Advice: "unpack it and give the folder"},
	{Code: SettingsSyntax, Severity: issue.Error, Meaning: "analysis.yaml cannot be read as YAML", Advice: "correct the line that the finding names"},
	{Code: SettingsUnknown, Severity: issue.Error, Meaning: "analysis.yaml holds a key that does not exist", Advice: "correct the key; the finding lists those that exist"},
	{Code: SettingsValue, Severity: issue.Error, Meaning: "a value of analysis.yaml cannot be used", Advice: "correct it"},
}
