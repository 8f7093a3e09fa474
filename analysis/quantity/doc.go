// Package quantity holds units of measurement, their dimensions and the exact
// factors between them, and the optional number that the whole program uses
// for "measured or missing".
//
// Units are written in UCUM, the Unified Code for Units of Measure (Schadow and
// McDonald, version 2.1, 2017), of which the part is known that a field crew, a
// laboratory or a result table needs. Factors are rational numbers and exact:
// those of the inch, the pound and the gallon follow from their legal
// definitions (Thompson and Taylor, NIST Special Publication 811, 2008).
//
// Everything may import it; it imports nothing of ours. It never reads files
// and never rounds. Spellings other than UCUM are the business of ingest/units.
package quantity
