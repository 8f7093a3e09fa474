package columnar

import (
	"errors"
	"fmt"
	"time"

	"sheetwash/ingest/issue"
)

// The codes of what can be wrong with a columnar file.
const (
	// CodeUnknown: the bytes are none of the formats read here.
	CodeUnknown issue.Code = "columnar.unknown"
	// CodeCorrupt: the file contradicts itself or its format.
	CodeCorrupt issue.Code = "columnar.corrupt"
	// CodeTruncated: the file ends before its parts do. A warning where all that
	// an Arrow stream lacks is the mark at its end.
	CodeTruncated issue.Code = "columnar.truncated"
	// CodeCodec: the format is known, but written with a codec, an encoding, an
	// encryption or a byte order that is not read.
	CodeCodec issue.Code = "columnar.codec"
	// CodeType: a column has a type that no column of a dataset can have. An
	// error where the column is asked for, a note elsewhere.
	CodeType issue.Code = "columnar.type"
	// CodeText: a text cell is not UTF-8.
	CodeText issue.Code = "columnar.text"
	// CodeTooLarge: rows or sizes that are declared pass what Options allow.
	CodeTooLarge issue.Code = "columnar.too_large"
	// CodeTimeout: decoding took longer than Options allow.
	CodeTimeout issue.Code = "columnar.timeout"
	// CodeHeader: two columns of one name, or one without.
	CodeHeader issue.Code = "columnar.header"
	// CodeZone: the time zone of a column is not known here; its stamps are
	// given in UTC. A note.
	CodeZone issue.Code = "columnar.zone"
	// CodeUnit: field metadata name a unit that contradicts the column's type,
	// which wins. A note.
	CodeUnit issue.Code = "columnar.unit"
)

// Codes returns the codes of this package in a fixed order, for documentation.
func Codes() []issue.Code {
	return []issue.Code{
		CodeUnknown, CodeCorrupt, CodeTruncated, CodeCodec, CodeType, CodeText,
		CodeTooLarge, CodeTimeout, CodeHeader, CodeZone, CodeUnit,
	}
}

// fault is a finding on its way to the list; File and Severity are filled in
// where it arrives.
type fault struct {
	Code    issue.Code
	Row     int64
	Column  string
	Value   string
	Message string
	Mild    bool // a warning
}

func (f *fault) Error() string { return f.Message }

func faultf(code issue.Code, format string, args ...any) *fault {
	return &fault{Code: code, Message: fmt.Sprintf(format, args...)}
}

func timeout(limit time.Duration) *fault {
	return faultf(CodeTimeout, "reading took longer than %v; split the file, or raise the limit", limit)
}

// asFault makes a finding of an error; what is not a fault already is damage.
func asFault(err error) *fault {
	var f *fault
	if errors.As(err, &f) {
		return f
	}
	return faultf(CodeCorrupt, "the file cannot be decoded (%s); it is damaged or was cut off while being written: write it again", issue.Clip(err.Error()))
}

func (f *fault) issue(file string) issue.Issue {
	severity := issue.Error
	if f.Mild {
		severity = issue.Warning
	}
	return issue.Issue{
		Code: f.Code, Severity: severity, File: file,
		Row: f.Row, Column: f.Column, Value: f.Value, Message: f.Message,
	}
}

// ioError is an error of reading the file, not of what it holds.
type ioError struct{ error }

func (e ioError) Unwrap() error { return e.error }

// guarded runs decode and turns what a library says or how it panics into a fault;
// errors of reading stay what they are.
func guarded(decode func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = faultf(CodeCorrupt, "the file cannot be decoded (%s); it is damaged: write it again", issue.Clip(fmt.Sprint(p)))
		}
	}()
	err = decode()
	var io ioError
	if err == nil || errors.As(err, &io) {
		return err
	}
	return asFault(err)
}
