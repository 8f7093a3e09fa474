package units

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"sheetwash/analysis/quantity"
)

// TimeRule says how the cells of one time column are to be read.
type TimeRule struct {
	Unit         quantity.Unit // of plain numbers
	Start        time.Time     // start of rain, in the zone of the site
	Started      bool          // whether Start is known
	Clock        bool          // two- and three-part times are times of day, not elapsed
	DecimalComma bool
}

// Errors of time cells, wrapped with the cell's text.
var (
	// ErrTime says that a cell is no time in any of the accepted forms.
	ErrTime = errors.New("not a time")
	// ErrNoStart says that a clock time or a stamp stands in a run whose start is not known.
	ErrNoStart = errors.New("a clock time needs the start of the run")
)

// TimeDecoder reads the cells of one time column. It is made once per column.
type TimeDecoder struct {
	rule  TimeRule
	toMin quantity.Conversion
}

// NewTimeDecoder returns the decoder of a column; an error if the rule's unit
// is no time.
func NewTimeDecoder(rule TimeRule) (TimeDecoder, error) {
	c, err := rule.Unit.To(minute)
	if err != nil {
		return TimeDecoder{}, err
	}
	return TimeDecoder{rule: rule, toMin: c}, nil
}

var minute = quantity.MustParse("min")

// At returns the decoder for the cells of another run.
func (d TimeDecoder) At(start time.Time, started bool) TimeDecoder {
	d.rule.Start, d.rule.Started = start, started
	return d
}

// Time is NewTimeDecoder and Minutes for a single cell.
func Time(cell string, rule TimeRule) (float64, error) {
	d, err := NewTimeDecoder(rule)
	if err != nil {
		return 0, err
	}
	return d.Minutes(cell)
}

// Minutes returns the minutes from the start of rain that a cell states. The
// forms and how they are told apart:
//
//	12.5                      a number in rule.Unit
//	90 s, 1.5 min             a number with its own unit
//	1:02:30, 2:30, 2:30.5     elapsed h:mm:ss or mm:ss, with decimals of seconds
//	10:05, 10:05:30           time of day, only where rule.Clock is set
//	10:05 am, 10:05Z, T10:05  time of day, by its mark: AM, PM, a zone or T
//	2031-05-14T10:05:30+01:00 stamp; without an offset in the zone of rule.Start
//
// A bare "10:05" is therefore ten minutes and five seconds unless the column is
// declared to hold clock times. A time of day is taken on the day that brings it
// within twelve hours of the start, so that a run may pass midnight and a
// reading may precede the rain (its minutes are then negative).
//
// It returns ErrTime for anything else, and ErrNoStart where the start of the
// run is needed and not known.
func (d TimeDecoder) Minutes(cell string) (float64, error) {
	text := trim(cell)
	if text == "" {
		return 0, fmt.Errorf("%w: empty cell", ErrTime)
	}
	if !strings.Contains(text, ":") {
		if v, err := Number(text, d.rule.DecimalComma); err == nil {
			return d.toMin.Apply(v), nil
		}
	}
	if t, dateOnly, ok := parseStamp(text, zone(d.rule.Start)); ok {
		if dateOnly {
			return 0, fmt.Errorf("%w: %q is a date without a time of day", ErrTime, cell)
		}
		if !d.rule.Started {
			return 0, fmt.Errorf("%w: %q", ErrNoStart, cell)
		}
		return t.Sub(d.rule.Start).Seconds() / 60, nil
	}
	if c, ok := parseClock(text, d.rule.Clock); ok {
		if !d.rule.Started {
			return 0, fmt.Errorf("%w: %q", ErrNoStart, cell)
		}
		return c.since(d.rule.Start), nil
	}
	if strings.Contains(text, ":") {
		return elapsed(text)
	}
	return d.withUnit(text)
}

// withUnit reads a number that carries its own unit, such as "90 s".
func (d TimeDecoder) withUnit(text string) (float64, error) {
	end := strings.IndexFunc(text, func(r rune) bool {
		return !strings.ContainsRune("0123456789.,+-", r)
	})
	if end <= 0 {
		return 0, fmt.Errorf("%w: %q", ErrTime, text)
	}
	v, err := Number(text[:end], d.rule.DecimalComma)
	if err != nil {
		return 0, fmt.Errorf("%w: %q", ErrTime, text)
	}
	u, err := Resolve(text[end:], quantity.Time)
	if err != nil {
		return 0, fmt.Errorf("%w: %q", ErrTime, text)
	}
	out, err := u.Unit.ConvertTo(v, minute)
	if err != nil {
		return 0, fmt.Errorf("%w: %q: %w", ErrTime, text, err)
	}
	return out, nil
}

func zone(t time.Time) *time.Location {
	if t.IsZero() {
		return time.UTC
	}
	return t.Location()
}
