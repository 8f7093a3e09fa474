package quantity

// Unit is a unit of measurement.
type Unit struct {
	Code string // UCUM
}
