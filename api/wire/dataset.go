package wire

import "time"

// Dataset is an upload as it was received: its bytes are never edited.
type Dataset struct {
	ID        string    `json:"id"`
	SeasonID  string    `json:"season"`
	EventID   *string   `json:"event" extensions:"x-nullable"`
	Name      string    `json:"name"`
	SHA256    string    `json:"sha256"`
	Bytes     int64     `json:"bytes"`
	Files     []File    `json:"files"`
	State     string    `json:"state" enums:"accepted,rejected"`
	Findings  Counts    `json:"findings"`
	CreatedBy *string   `json:"created_by" extensions:"x-nullable"` // id of a key
	CreatedAt time.Time `json:"created_at" format:"date-time"`
	Links     Links     `json:"links"`
} // @name Dataset

// File is a file of a dataset.
type File struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
} // @name File

// Counts counts findings by severity.
type Counts struct {
	Errors   int `json:"errors"`
	Warnings int `json:"warnings"`
	Notes    int `json:"notes"`
} // @name Counts

// Check is what a dry run of an upload answers: nothing was kept.
type Check struct {
	Name     string    `json:"name"`
	SHA256   string    `json:"sha256"`
	Bytes    int64     `json:"bytes"`
	State    string    `json:"state" enums:"accepted,rejected"` // what the upload would be
	Counts   Counts    `json:"counts"`
	Findings []Finding `json:"findings"` // at most 100
	Runs     int       `json:"runs"`
	Plots    int       `json:"plots"`
} // @name Check
