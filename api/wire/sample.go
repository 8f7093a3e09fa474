package wire

// Sample is one bottle or timed catch of a plot, as it was read: in the units of the
// names, before anything is computed from it.
type Sample struct {
	ID        string  `json:"id"` // of the plot, a dot, and its number among the bottles of the plot
	SeasonID  string  `json:"season"`
	EventID   *string `json:"event_id" extensions:"x-nullable"` // of the dataset
	DatasetID string  `json:"dataset"`
	RunID     string  `json:"run_id"`
	PlotID    string  `json:"plot_id"`
	Event     string  `json:"event"`
	Run       string  `json:"run"`
	Plot      string  `json:"plot"`
	Treatment string  `json:"treatment"`
	Stream    string  `json:"stream"` // runoff, drainage, splash or remainder
	Flag      string  `json:"flag"`   // ok, overflow, spilled, lost, leak or trace
	StartMin  float64 `json:"start_min"`
	EndMin    float64 `json:"end_min"`

	VolumeML        *float64        `json:"volume_ml" extensions:"x-nullable"`
	GrossG          *float64        `json:"gross_g" extensions:"x-nullable"`
	TareG           *float64        `json:"tare_g" extensions:"x-nullable"`
	SedimentG       *float64        `json:"sediment_g" extensions:"x-nullable"`
	SedimentGrossG  *float64        `json:"sediment_gross_g" extensions:"x-nullable"`
	SedimentTareG   *float64        `json:"sediment_tare_g" extensions:"x-nullable"`
	SedimentPending bool            `json:"sediment_pending"` // the oven is not done with it
	ConcentrationGL *float64        `json:"concentration_g_l" extensions:"x-nullable"`
	WaterTempC      *float64        `json:"water_temp_c" extensions:"x-nullable"`
	TurbidityNTU    *float64        `json:"turbidity_ntu" extensions:"x-nullable"`
	Analytes        []SampleAnalyte `json:"analytes"`
	Excluded        bool            `json:"excluded"` // in its file
	ExcludeReason   *string         `json:"exclude_reason" extensions:"x-nullable"`
	File            string          `json:"file"` // that it was read from
	Row             int64           `json:"row"`  // as a spreadsheet counts
	Links           Links           `json:"links"`
} // @name Sample

// SampleAnalyte is a further concentration that was measured on a bottle.
type SampleAnalyte struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
} // @name SampleAnalyte
