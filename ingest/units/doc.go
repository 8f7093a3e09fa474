// Package units reads what crews write: headers such as "Runoff (mL)", trade
// spellings of units such as "mm/hr" or "gal", and cells that hold a number, a
// percentage, a slope class, a time or a stamp. It turns them into UCUM units
// and numbers in the program's own units; it is the one place on the way in
// where numbers change their unit.
//
// mapping and readings call it. It knows no table of the data dictionary: which
// names are columns and which dimension a column has, the caller says.
package units
