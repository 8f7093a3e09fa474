package mapping

import (
	"path"
	"regexp"
	"strings"
	"time"

	"sheetwash/analysis/quantity"
)

// Map is a mapping.yaml or the part of a datapackage.json that says the same.
type Map struct {
	File    string             // for findings
	Format  Format             // of every file, unless its source says otherwise
	Zone    *time.Location     // of stamps without an offset; nil: not given
	Missing map[string]Meaning // in every column, unless its source or rule says otherwise
	Sources []Source           // in the order of the data dictionary, then of the file
}

// Format says how the bytes of a file are to be read. Zero fields are recognised.
type Format struct {
	Delimiter string // one character
	Decimal   string // "." or ","
	Encoding  string // "utf-8", "utf-16" or "windows-1252"
}

// Location is a table within a dataset's files.
type Location struct {
	File  string // path below the dataset, slash-separated
	Sheet string // of a workbook; "": the only one, or the one named like the table
	Range string // of the sheet, such as "A9:F40"; "": the used part
	Format
}

// Source feeds one table of the data dictionary from one file, or from every
// file that a pattern matches. A table may have several sources: its rows then
// follow one another.
type Source struct {
	Table      string
	Location               // File may be a pattern as in path.Match
	Joins      []Join      // columns of other files, looked up by a key
	Unpivot    *Unpivot    // wide columns to rows
	Where      []Condition // rows that hold all of these are kept
	Skip       []Condition // rows that hold any of these are left out
	Columns    []Rule
	Covariates []string // columns kept as they are, in plots
	Missing    map[string]Meaning
	OwnHeaders bool // headers that the Columns do not name are matched to the dictionary
	Line       int  // of the mapping file
}

// Rule says how one of our columns is filled. Exactly one of From, Constant,
// Compose and FileName is set.
type Rule struct {
	Name      string // our column, a channel of the readings, or analyte_…
	From      string // header in the file
	Constant  *string
	Compose   []Piece
	FileName  *regexp.Regexp // its first group, matched against the file's base name
	Unit      quantity.Unit  // valid with HasUnit
	HasUnit   bool
	Translate map[string]string
	Missing   map[string]Meaning
	Clock     bool
	Line      int
}

// Piece is a part of a composed text: a header of the file, or literal text.
type Piece struct {
	Header  string
	Literal string
}

// Join adds the columns of another file to the rows that agree in the keys.
type Join struct {
	Location
	On   []KeyPair
	Line int
}

// KeyPair is a key column: its header here and in the joined file.
type KeyPair struct{ Here, There string }

// Unpivot turns columns whose header matches a pattern into rows. Each named
// group becomes a column that holds the matched part of the header; the cell
// stands in a column named Value, or in one named by the group "measure".
type Unpivot struct {
	Columns   *regexp.Regexp
	Value     string
	DropEmpty bool
	Line      int
}

// Condition is a column and the words that its trimmed cell may be.
type Condition struct {
	Header string
	Words  []string
	Line   int
}

// Uses reports whether the mapping reads the file of that path, as a source or
// in a join; what it does not use is then read by its own name and headers.
func (m *Map) Uses(file string) bool {
	for _, s := range m.Sources {
		if matchFile(s.File, file) || strings.EqualFold(s.File, file) {
			return true
		}
		for _, j := range s.Joins {
			if strings.EqualFold(j.File, file) {
				return true
			}
		}
	}
	return false
}

// Tables returns the tables of the data dictionary that the mapping feeds.
func (m *Map) Tables() []string {
	var out []string
	for _, s := range m.Sources {
		if len(out) == 0 || out[len(out)-1] != s.Table {
			out = append(out, s.Table)
		}
	}
	return out
}

// matchFile reports whether a path is the named file or matches the pattern.
func matchFile(pattern, file string) bool {
	if pattern == file {
		return true
	}
	ok, err := path.Match(pattern, file)
	return err == nil && ok
}
