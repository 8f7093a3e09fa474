// Package words says results in plain words and rounds them for people.
//
// The command line and the pages call it, so that both say the same of the same
// rows. It knows how many digits a value bears, and how amounts of water and soil
// are spoken of over land. It never computes a result, and never touches what the
// result tables hold.
package words
