package table

import "sheetwash/ingest/issue"

// The codes of what a text file can have wrong with it. They are stable: a code
// is never renamed or reused.
const (
	// CodeFileEmpty: the file holds no header, only nothing, blank lines or comments. Error.
	CodeFileEmpty issue.Code = "file.empty"
	// CodeFileCompressed: compressed data are cut off or damaged (error), or were
	// found under a name that does not say so (note).
	CodeFileCompressed issue.Code = "file.compressed"
	// CodeFileTooLarge: the text is longer, once expanded, than the limit that was set. Error.
	CodeFileTooLarge issue.Code = "file.too_large"

	// CodeTextEncoding: the text is not UTF-8; which encoding was taken (note), or
	// a place that fits no single encoding (error).
	CodeTextEncoding issue.Code = "text.encoding"
	// CodeTextDelimiter: cells are not separated by commas; what was taken. Note.
	CodeTextDelimiter issue.Code = "text.delimiter"
	// CodeTextDecimalComma: numbers are taken to have a decimal comma. Note; a
	// warning where each of them could be a number of thousands.
	CodeTextDecimalComma issue.Code = "text.decimal_comma"
	// CodeTextComment: lines above the header that begin with # were passed over. Note.
	CodeTextComment issue.Code = "text.comment"
	// CodeTextLineEnds: lines end in a carriage return alone. Note.
	CodeTextLineEnds issue.Code = "text.line_ends"
	// CodeTextNUL: a row holds a NUL byte, as binary or damaged files do. Error.
	CodeTextNUL issue.Code = "text.nul"

	// CodeUnclosedQuote: a quoted cell is not closed, given at the row where it opens. Error.
	CodeUnclosedQuote issue.Code = "csv.unclosed_quote"
	// CodeBareQuote: a quote stands inside an unquoted cell, or text follows a closing quote. Error.
	CodeBareQuote issue.Code = "csv.bare_quote"
	// CodeRagged: a row has more or fewer cells than the header. Error.
	CodeRagged issue.Code = "csv.ragged"
	// CodeRecordTooLong: a row is longer than can be held, or the header has more
	// cells than a table may have columns. Error.
	CodeRecordTooLong issue.Code = "csv.record_too_long"
	// CodeFieldTooLong: a cell is longer than the limit that was set. Error.
	CodeFieldTooLong issue.Code = "csv.field_too_long"

	// CodeHeaderDuplicate: two columns have the same name. Error.
	CodeHeaderDuplicate issue.Code = "header.duplicate"
	// CodeHeaderUnnamed: columns have no name; they are kept, and nothing can refer to them. Note.
	CodeHeaderUnnamed issue.Code = "header.unnamed"
	// CodeNoRows: a header without a row below it. Warning.
	CodeNoRows issue.Code = "table.no_rows"
)

// TextCodes returns the codes of this file in a fixed order, for documentation
// and for the test that asks for a fixture of each.
func TextCodes() []issue.Code {
	return []issue.Code{
		CodeFileEmpty, CodeFileCompressed, CodeFileTooLarge,
		CodeTextEncoding, CodeTextDelimiter, CodeTextDecimalComma, CodeTextComment, CodeTextLineEnds, CodeTextNUL,
		CodeUnclosedQuote, CodeBareQuote, CodeRagged, CodeRecordTooLong, CodeFieldTooLong,
		CodeHeaderDuplicate, CodeHeaderUnnamed, CodeNoRows,
	}
}
