package wire

// Finding is what a check says about a file, row and column: a row of the
// table of findings.
type Finding struct {
	Dataset  string  `json:"dataset"`
	Code     string  `json:"code" example:"unit.unknown"`
	Severity string  `json:"severity" enums:"error,warning,note"`
	File     *string `json:"file" extensions:"x-nullable"`
	Table    *string `json:"table" extensions:"x-nullable"`
	Row      *int64  `json:"row" extensions:"x-nullable"` // header = 1; null: the whole file
	Column   *string `json:"column" extensions:"x-nullable"`
	Value    *string `json:"value" extensions:"x-nullable"` // at most 64 characters
	Message  string  `json:"message"`                       // what was found and what to do
} // @name Finding
