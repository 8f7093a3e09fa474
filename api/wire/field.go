package wire

// Run is one application of rain.
type Run struct {
	ID        string  `json:"id"`
	SeasonID  string  `json:"season"`
	EventID   *string `json:"event_id" extensions:"x-nullable"` // of the dataset
	DatasetID string  `json:"dataset"`
	Event     string  `json:"event"` // as the dataset names it
	Run       string  `json:"run"`
	Simulator *string `json:"simulator" extensions:"x-nullable"`
	Started   *string `json:"started" extensions:"x-nullable"`
	Plots     int     `json:"plots"`
	Links     Links   `json:"links"`
} // @name Run

// Plot is the experimental unit under one run.
type Plot struct {
	ID            string  `json:"id"`
	SeasonID      string  `json:"season"`
	EventID       *string `json:"event_id" extensions:"x-nullable"` // of the dataset
	DatasetID     string  `json:"dataset"`
	RunID         string  `json:"run_id"`
	Event         string  `json:"event"`
	Run           string  `json:"run"`
	Plot          string  `json:"plot"`
	Treatment     string  `json:"treatment"`
	TreatmentID   string  `json:"treatment_id"`
	Block         *string `json:"block" extensions:"x-nullable"`
	Excluded      bool    `json:"excluded"`
	ExcludeReason *string `json:"exclude_reason" extensions:"x-nullable"`
	Revision      int64   `json:"revision"`
	Links         Links   `json:"links"`
} // @name Plot

// PlotPatch sets a plot aside, with the reason, or takes it in again. New
// analyses follow it; finished ones stay as they are.
type PlotPatch struct {
	Excluded      Change[bool]   `json:"excluded" swaggertype:"boolean"`
	ExcludeReason Change[string] `json:"exclude_reason" swaggertype:"string" extensions:"x-nullable"`
} // @name PlotPatch

// Treatment is a management or cover that is compared, as the plots name it.
type Treatment struct {
	ID       string `json:"id"`
	SeasonID string `json:"season"`
	Name     string `json:"name"`
	Plots    int    `json:"plots"`
	Excluded int    `json:"excluded"` // of the plots
	Runs     int    `json:"runs"`
	Datasets int    `json:"datasets"`
	Links    Links  `json:"links"`
} // @name Treatment

// Calibration is a set of catch cans.
type Calibration struct {
	ID          string  `json:"id"`
	SeasonID    string  `json:"season"`
	EventID     *string `json:"event_id" extensions:"x-nullable"` // of the dataset
	DatasetID   string  `json:"dataset"`
	Calibration string  `json:"calibration"`
	Simulator   *string `json:"simulator" extensions:"x-nullable"`
	Date        *string `json:"date" extensions:"x-nullable"`
	Cans        int     `json:"cans"`
	Links       Links   `json:"links"`
} // @name Calibration
