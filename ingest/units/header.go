package units

import (
	"strings"
	"unicode"
)

// Header is a column header taken apart.
type Header struct {
	Name      string // normalised: lower case, blanks, dashes and dots as underscores
	Unit      string // as spelled; "" where none is stated
	Bracketed bool   // the unit stood in brackets
}

// Split takes a header apart. The unit stands in brackets at the end, as in
// "volume [mL]" or "Volume (mL)", or behind the name: "volume_mL", "volume.mL",
// "Volume mL", "volume/mL". A suffix is taken for a unit only if what
// stands before it is a known column, and the longest known column wins:
// "rain_duration" is not a duration of rain, and "runoff_start_min" is the
// column runoff_start in min. ok says whether Name is a known column.
//
// Whether the unit is one, Resolve says; known is asked with normalised names.
func Split(header string, known func(name string) bool) (h Header, ok bool) {
	header = trim(header)
	if name, unit, found := cutBrackets(header); found {
		h = Header{Name: Normalise(name), Unit: unit, Bracketed: unit != ""}
		return h, known(h.Name)
	}
	whole := Normalise(header)
	if known(whole) {
		return Header{Name: whole}, true
	}
	for i := len(header) - 1; i > 0; i-- {
		unit := header[i:]
		switch header[i] {
		case '_', '.', ' ', '-', '/', ',':
			unit = header[i+1:]
		case '%', 0xc2: // "%" and the first byte of "°" may follow without a blank
		default:
			continue
		}
		name := Normalise(header[:i])
		if unit = trim(unit); unit != "" && known(name) {
			return Header{Name: name, Unit: unit}, true
		}
	}
	return Header{Name: whole}, false
}

// cutBrackets cuts "name [unit]" and "name (unit)". The unit may hold brackets
// itself: "volume [[gal_us]]".
func cutBrackets(header string) (name, unit string, ok bool) {
	for _, b := range []string{"[]", "()"} {
		if !strings.HasSuffix(header, b[1:]) {
			continue
		}
		depth := 0
		for i := len(header) - 1; i > 0; i-- {
			switch header[i] {
			case b[1]:
				depth++
			case b[0]:
				depth--
			}
			if depth == 0 {
				return trim(header[:i]), trim(header[i+1 : len(header)-1]), trim(header[:i]) != ""
			}
		}
	}
	return "", "", false
}

// Normalise returns the form in which headers are compared: lower case, with
// every run of blanks, dashes, dots and underscores as one underscore.
func Normalise(header string) string {
	var b strings.Builder
	gap := false
	for _, r := range strings.ToLower(trim(header)) {
		switch {
		case r == '\ufeff': // a byte order mark shows nothing, wherever it stands
			continue
		case r == '-' || r == '.' || r == '_' || unicode.IsSpace(r):
			gap = b.Len() > 0
			continue
		}
		if gap {
			b.WriteByte('_')
			gap = false
		}
		b.WriteRune(r)
	}
	return b.String()
}
