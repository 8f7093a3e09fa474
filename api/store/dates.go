package store

import "time"

// layouts are the ways in which files write when a run began. A time without an
// offset is taken as UTC: it sorts and filters within a few hours of the truth.
var layouts = []string{
	time.RFC3339Nano, "2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02 15:04", time.DateOnly,
}

// instantOf is the instant that a text names, as it is kept; nil if it names none.
func instantOf(text string) any {
	for _, layout := range layouts {
		if t, err := time.Parse(layout, text); err == nil {
			return micros(t)
		}
	}
	return nil
}
