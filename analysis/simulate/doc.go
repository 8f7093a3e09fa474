// Package simulate is the forward physics of one small plot under simulated
// rain: infiltration capacity, surface storage, runoff, sediment and the
// bottles that an operator would have filled and read.
//
// Tests, the coverage study and the demo season call it, to have plots whose
// true onset, runoff, capacity and sediment are known. It shares no code with
// the methods that estimate them and never reads or writes a file.
package simulate
