package wire

// Metric is a row of the catalogue of metrics.
type Metric struct {
	ID         string   `json:"id" example:"time_to_runoff"`
	Name       string   `json:"name"`
	Of         string   `json:"of" enums:"plot,calibration"`
	Unit       string   `json:"unit"`    // UCUM
	UnitUS     string   `json:"unit_us"` // UCUM
	Replicates string   `json:"replicates" enums:"plain,skewed,time_to_event"`
	Definition string   `json:"definition"`
	Methods    []Method `json:"methods"`
	Page       string   `json:"page"` // of the documentation, with equations and errors
} // @name Metric

// Method is a way to a metric: a word of the method column.
type Method struct {
	ID      string `json:"id" example:"first_bottle"`
	Meaning string `json:"meaning"`
	Source  string `json:"source"` // publication, or "definition"
} // @name Method

// Unit is a unit of the result tables and what becomes of it with units=us.
type Unit struct {
	Unit   string  `json:"unit" example:"mm/h"` // UCUM
	US     string  `json:"us" example:"in/h"`   // as the unit column spells it
	Factor float64 `json:"factor"`              // one Unit is this many US
} // @name Unit

// ErrorCode is a row of the table of error codes.
type ErrorCode struct {
	Code      string `json:"code"`
	Status    int    `json:"status"`
	Title     string `json:"title"`
	Retryable bool   `json:"retryable"`
	Meaning   string `json:"meaning"`
	Remedy    string `json:"remedy"`
	Page      string `json:"page"`
} // @name ErrorCode

// TableSchema describes a result table: a Table Schema with UCUM units.
type TableSchema struct {
	Name     string        `json:"name"`
	Row      string        `json:"description"` // what a row stands for
	Fields   []SchemaField `json:"fields"`
	Missing  []string      `json:"missingValues"` // in CSV
	CSVGuard string        `json:"csv_guard"`     // how to undo the guard against formulas in CSV
	Units    string        `json:"units" enums:"si,us"`
} // @name TableSchema

// SchemaField is a column of a result table.
type SchemaField struct {
	Name        string      `json:"name"`
	Type        string      `json:"type" enums:"string,number,integer,boolean"`
	Description string      `json:"description"`
	Unit        string      `json:"unit,omitempty"`        // UCUM
	UnitInRow   bool        `json:"unit_in_row,omitempty"` // the unit stands in the row's unit column
	Constraints Constraints `json:"constraints"`
} // @name SchemaField

// Constraints are those of a Table Schema field.
type Constraints struct {
	Required bool `json:"required"`
} // @name Constraints

// Limit is a limit of the service.
type Limit struct {
	Name    string  `json:"name"`
	Value   float64 `json:"value"`
	Unit    string  `json:"unit"`
	Meaning string  `json:"meaning"`
} // @name Limit

// Health is what the probes answer.
type Health struct {
	Status  string `json:"status" enums:"alive,ready"`
	Version string `json:"version"`
} // @name Health
