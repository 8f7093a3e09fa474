package units

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"sheetwash/analysis/quantity"
	"sheetwash/ingest/issue"
)

// Resolved is the unit that a spelling stands for, and what was assumed in
// reading it.
type Resolved struct {
	Unit  quantity.Unit
	Notes []Note
}

// Note is an assumption that a finding states.
type Note struct {
	Code    issue.Code // unit.us_gallon and its like
	Message string
}

// The notes of Resolve.
const (
	USGallon    issue.Code = "unit.us_gallon"   // a gallon, quart, pint or fluid ounce was taken for the US one
	Ton         issue.Code = "unit.ton"         // a ton was taken for the short ton of 2000 lb
	PartsPer    issue.Code = "unit.parts_per"   // ppm was taken for mg/L
	LetterCase  issue.Code = "unit.letter_case" // ML was taken for mL
	UnknownUnit issue.Code = "unit.unknown"     // no such unit
	OtherKind   issue.Code = "unit.dimension"   // a unit of another quantity
)

// Errors of Resolve.
var (
	// ErrUnknown says that a spelling is no unit.
	ErrUnknown = errors.New("unknown unit")
	// ErrDimension says that it is a unit of another quantity.
	ErrDimension = errors.New("unit of another quantity")
)

// Resolve returns the unit that a spelling means where one of the expected
// dimensions is wanted; without an expectation it takes the first meaning.
//
// A UCUM code of an expected dimension is taken as it stands, so that case
// counts where UCUM makes it count (mS is not ms). Everything else is looked up
// among the spellings of the trade, without regard to case: "mm/hr",
// "mm h-1", "mmhr", "mm per hour" and "MM/H" are mm/h; "oz" is the fluid or
// the avoirdupois ounce by what is expected; "C" is the Celsius scale. Blanks and
// underscores between units mean "per" unless an exponent or a slash says
// otherwise. The only departures from UCUM's case are ML, Ml and Mm, which
// are read as mL and mm with a note, since no bottle holds a megalitre.
//
// "gr", which is a gram to some and a grain to others, is unknown.
//
// It returns ErrUnknown, or ErrDimension with what the unit measures.
func Resolve(spelling string, expected ...quantity.Dimension) (Resolved, error) {
	text := trim(spelling)
	if text == "" || len(text) > maxSpelling {
		return Resolved{}, fmt.Errorf("%w: %q", ErrUnknown, issue.Clip(spelling))
	}
	var other *quantity.Unit
	for _, c := range candidates(text) {
		u, err := quantity.Parse(c.code)
		if err != nil {
			continue
		}
		if len(expected) == 0 || slices.Contains(expected, u.Dimension()) {
			return Resolved{Unit: u, Notes: c.notes}, nil
		}
		if other == nil {
			other = &u
		}
	}
	if advice := unclear[strings.ToLower(text)]; other == nil && advice != "" {
		return Resolved{}, fmt.Errorf("%w: %q (%s)", ErrUnknown, spelling, advice)
	}
	if other == nil {
		return Resolved{}, fmt.Errorf("%w: %q", ErrUnknown, spelling)
	}
	return Resolved{}, fmt.Errorf("%w: %q is %s, wanted is %s", ErrDimension, spelling, other.Dimension().Describe(), expected[0].Describe())
}

// maxSpelling is the longest spelling looked at, in bytes; maxTokens the most
// units that one may join.
const (
	maxSpelling = 60
	maxTokens   = 5
)

// candidate is one reading of a spelling.
type candidate struct {
	code  string
	notes []Note
}

// candidates returns the readings of a spelling, the likeliest first: UCUM as
// it stands, the words of the trade for the whole, then a compound of both.
func candidates(text string) []candidate {
	text = plain(text)
	var out []candidate
	if _, trap := caseTraps[text]; !trap {
		out = append(out, candidate{code: text})
	}
	out = append(out, words(text)...)
	if squeezed := strings.ReplaceAll(text, " ", ""); squeezed != text {
		out = append(out, words(squeezed)...)
	}
	out = append(out, compounds(text)...)
	if _, unclear := unclear[strings.ToLower(text)]; unclear {
		return out
	}
	return append(out, candidate{code: "[" + text + "]"}) // "volume [gal_us]" for "volume [[gal_us]]"
}

// unclear lists spellings that crews use for unlike units, and what to write
// instead. They are no units.
var unclear = map[string]string{
	"gr": "gram or grain? write g",
}

// words looks a spelling up among those of the trade: as written, then in lower case.
func words(text string) []candidate {
	if c, ok := caseTraps[text]; ok {
		return []candidate{c}
	}
	if found, ok := spellings[text]; ok {
		return slices.Clone(found)
	}
	return slices.Clone(spellings[strings.ToLower(text)])
}

// plain writes signs that are hard to type in plain letters, and the words that
// stand for them.
func plain(text string) string {
	text = typography.Replace(text)
	lower := strings.ToLower(text)
	if i := strings.Index(lower, " per "); i > 0 && len(lower) == len(text) {
		text = trim(text[:i]) + "/" + trim(text[i+len(" per "):])
	}
	if i := strings.Index(strings.ToLower(text), "_per_"); i > 0 {
		text = text[:i] + "/" + text[i+len("_per_"):]
	}
	return strings.Join(strings.Fields(text), " ")
}

var typography = strings.NewReplacer(
	"²", "2", "³", "3", "⁻", "-", "¹", "1", "−", "-", "µ", "u", "μ", "u", "·", ".", "⋅", ".", "×", ".", "**", "", "^", "", "″", "in", "′", "ft",
	"\u00a0", " ", "\u202f", " ",
)
