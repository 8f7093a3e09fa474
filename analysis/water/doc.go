// Package water holds the properties of water and of dilute suspensions that
// turn masses into volumes and rates at one temperature into rates at another.
//
// rainfall, hydrograph, infiltration and erosion call it. It knows nothing of
// plots or bottles, keeps no state and never guesses a temperature: a caller
// that has none takes ReferenceC and says so.
package water
