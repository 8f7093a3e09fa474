package wire

import "time"

// Season is a programme of field days or trials.
type Season struct {
	ID        string    `json:"id"`
	Name      string    `json:"name"`
	TimeZone  string    `json:"time_zone" example:"Europe/London"` // IANA name, of clock times without an offset
	Units     string    `json:"units" enums:"si,us"`
	Published bool      `json:"published"` // readable without a key where the operator allows it
	Revision  int64     `json:"revision"`
	CreatedAt time.Time `json:"created_at" format:"date-time"`
	UpdatedAt time.Time `json:"updated_at" format:"date-time"`
	Links     Links     `json:"links"`
} // @name Season

// NewSeason is a season to be made.
type NewSeason struct {
	Name     string `json:"name" example:"Corrin Basin 2026"`
	TimeZone string `json:"time_zone,omitempty" example:"Europe/London"` // default UTC
	Units    string `json:"units,omitempty" enums:"si,us"`               // default si
} // @name NewSeason

// SeasonPatch is a merge patch (RFC 7396) of a season: members that are not
// there stay as they are.
type SeasonPatch struct {
	Name      Change[string] `json:"name" swaggertype:"string"`
	TimeZone  Change[string] `json:"time_zone" swaggertype:"string"`           // null: UTC
	Units     Change[string] `json:"units" swaggertype:"string" enums:"si,us"` // null: si
	Published Change[bool]   `json:"published" swaggertype:"boolean"`          // null: false
} // @name SeasonPatch

// Event is one field day or trial date.
type Event struct {
	ID        string    `json:"id"`
	SeasonID  string    `json:"season"`
	Name      string    `json:"name"`
	Date      *string   `json:"date" extensions:"x-nullable" example:"2026-05-14"`
	Place     *string   `json:"place" extensions:"x-nullable"`
	Crew      *string   `json:"crew" extensions:"x-nullable"`
	Simulator *string   `json:"simulator" extensions:"x-nullable"`
	Revision  int64     `json:"revision"`
	CreatedAt time.Time `json:"created_at" format:"date-time"`
	UpdatedAt time.Time `json:"updated_at" format:"date-time"`
	Links     Links     `json:"links"`
} // @name Event

// NewEvent is an event to be made.
type NewEvent struct {
	Name      string `json:"name" example:"Ashlock Mill"`
	Date      string `json:"date,omitempty" example:"2026-05-14"`
	Place     string `json:"place,omitempty"`
	Crew      string `json:"crew,omitempty" example:"amber"`
	Simulator string `json:"simulator,omitempty"`
} // @name NewEvent

// EventPatch is a merge patch (RFC 7396) of an event; null takes a member away.
type EventPatch struct {
	Name      Change[string] `json:"name" swaggertype:"string"`
	Date      Change[string] `json:"date" swaggertype:"string" extensions:"x-nullable"`
	Place     Change[string] `json:"place" swaggertype:"string" extensions:"x-nullable"`
	Crew      Change[string] `json:"crew" swaggertype:"string" extensions:"x-nullable"`
	Simulator Change[string] `json:"simulator" swaggertype:"string" extensions:"x-nullable"`
} // @name EventPatch
