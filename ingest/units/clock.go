package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Stamp reads an ISO 8601 date or date-time. A stamp without an offset is taken
// in the zone loc (nil: UTC); a date alone is its midnight. It returns ErrTime
// for anything else.
func Stamp(cell string, loc *time.Location) (time.Time, error) {
	if loc == nil {
		loc = time.UTC
	}
	if t, _, ok := parseStamp(trim(cell), loc); ok {
		return t, nil
	}
	return time.Time{}, fmt.Errorf("%w: %q is no ISO 8601 stamp such as 2031-05-14T10:05:00+01:00", ErrTime, cell)
}

// stampLayouts are the forms of ISO 8601 that occur, with "T" written for the
// separator; fractions of a second are read by the package time in all of them.
var stampLayouts = []string{
	"2006-01-02T15:04:05Z07:00", "2006-01-02T15:04:05", "2006-01-02T15:04Z07:00", "2006-01-02T15:04",
	"2006-01-02T15:04:05Z0700", "2006-01-02T15:04Z0700",
	"20060102T150405Z0700", "20060102T150405", "2006-01-02",
}

func parseStamp(text string, loc *time.Location) (stamp time.Time, dateOnly, ok bool) {
	if len(text) < len("2006-01-02") || len(text) > 40 || text[0] < '0' || text[0] > '9' {
		return time.Time{}, false, false
	}
	if text[4] == '-' && len(text) > 11 && (text[10] == ' ' || text[10] == 't') {
		text = text[:10] + "T" + strings.ReplaceAll(text[11:], " ", "") // "2031-05-14 10:05 +01:00"
	}
	for _, layout := range stampLayouts {
		if t, err := time.ParseInLocation(layout, text, loc); err == nil {
			return t, len(layout) == len("2006-01-02"), t.Year() >= 1900 && t.Year() < 2200
		}
	}
	return time.Time{}, false, false
}

// clock is a time of day. Without a zone it is in the zone of the run's start.
type clock struct {
	seconds float64 // from midnight
	zoned   bool
	east    int // seconds east of UTC, where zoned
}

// parseClock reads a time of day. Without a mark (AM, PM, a zone or a leading
// T) the text is one only if the column is declared to hold clock times.
func parseClock(text string, declared bool) (clock, bool) {
	var c clock
	marked := declared
	if len(text) > 1 && (text[0] == 'T' || text[0] == 't') {
		text, marked = text[1:], true
	}
	rest, half, isHalf := cutHalf(text)
	if isHalf {
		text, marked = rest, true
	} else if rest, east, ok := cutZone(text); ok {
		text, marked = rest, true
		c.zoned, c.east = true, east
	}
	if !marked {
		return c, false
	}
	p, ok := parts(text)
	if !ok || len(p) < 2 || len(p) > 3 || p[1] >= 60 || p[1] != math.Trunc(p[1]) {
		return c, false
	}
	hour := p[0]
	if isHalf {
		if hour < 1 || hour > 12 {
			return c, false
		}
		hour = math.Mod(hour, 12) + half
	}
	if hour >= 24 {
		return c, false
	}
	c.seconds = hour*3600 + p[1]*60
	if len(p) == 3 {
		if p[2] >= 60 {
			return c, false
		}
		c.seconds += p[2]
	}
	return c, true
}

// cutHalf takes AM or PM off the end and returns the hours to add.
func cutHalf(text string) (rest string, hours float64, ok bool) {
	lower := strings.ToLower(text)
	for _, mark := range []string{"am", "a.m.", "pm", "p.m."} {
		if strings.HasSuffix(lower, mark) {
			if mark[0] == 'p' {
				hours = 12
			}
			return strings.TrimSpace(text[:len(text)-len(mark)]), hours, true
		}
	}
	return text, 0, false
}

// cutZone takes Z or an offset such as +01:00 or +0100 off the end.
func cutZone(text string) (rest string, east int, ok bool) {
	if strings.HasSuffix(text, "Z") || strings.HasSuffix(text, "z") {
		return text[:len(text)-1], 0, true
	}
	at := strings.LastIndexAny(text, "+-")
	if at < len("0:00") {
		return text, 0, false
	}
	digits := strings.Replace(text[at+1:], ":", "", 1)
	n, err := strconv.ParseUint(digits, 10, 16)
	if err != nil || len(digits) != 4 || n/100 > 14 || n%100 > 59 {
		return text, 0, false
	}
	east = int(n/100*3600 + n%100*60)
	if text[at] == '-' {
		east = -east
	}
	return strings.TrimSpace(text[:at]), east, true
}

// since returns the minutes from start to the nearest such time of day.
func (c clock) since(start time.Time) float64 {
	if c.zoned {
		start = start.In(time.FixedZone("", c.east))
	}
	h, m, s := start.Clock()
	of := float64(h*3600+m*60+s) + float64(start.Nanosecond())/1e9
	const day = 24 * 3600
	d := c.seconds - of
	switch {
	case d > day/2:
		d -= day
	case d <= -day/2:
		d += day
	}
	return d / 60
}

// elapsed reads h:mm:ss or mm:ss with decimals of seconds and an optional sign.
func elapsed(text string) (float64, error) {
	body, sign := text, 1.0
	if strings.HasPrefix(body, "-") {
		body, sign = body[1:], -1
	}
	p, ok := parts(body)
	if !ok || len(p) < 2 || len(p) > 3 || p[len(p)-1] >= 60 || len(p) == 3 && p[1] >= 60 {
		return 0, fmt.Errorf("%w: %q is neither mm:ss nor h:mm:ss", ErrTime, text)
	}
	seconds := 0.0
	for _, v := range p {
		seconds = seconds*60 + v
	}
	return sign * seconds / 60, nil
}

// parts reads numbers between colons: whole ones of one to four digits, the
// last of which may have decimals, after a point or a comma.
func parts(text string) ([]float64, bool) {
	fields := strings.Split(text, ":")
	if len(fields) > 3 {
		return nil, false
	}
	out := make([]float64, len(fields))
	for i, f := range fields {
		whole, decimals, has := strings.Cut(strings.Replace(f, ",", ".", 1), ".")
		if len(whole) == 0 || len(whole) > 4 || has && (i < len(fields)-1 || len(decimals) == 0 || len(decimals) > 9) {
			return nil, false
		}
		if i > 0 && len(whole) != 2 || !allDigits(whole) || !allDigits(decimals) {
			return nil, false
		}
		v, err := strconv.ParseFloat(whole+"."+decimals+"0", 64)
		if err != nil {
			return nil, false
		}
		out[i] = v
	}
	return out, true
}

func allDigits(s string) bool {
	for _, c := range []byte(s) {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}
