// Package draw draws codes for people to print: the test sheet of package wedge.
//
//	err := draw.Sheet(w, draw.A4)
//
// A Symbol is a grid of dark and light modules; a linear symbol has one row.
// Sheet writes it as SVG in millimetres, since a printer then draws each bar at
// its own resolution, where a bitmap would be smoothed.
//
// # Which symbols
//
// Code 128 and GS1-128 (ISO/IEC 15417), DataMatrix and GS1 DataMatrix (ISO/IEC
// 16022, ECC 200, square). In the GS1 kinds FNC1 stands in front and for each
// separator U+001D. DataMatrix is encoded in ASCII only, two digits a code word,
// which is within a few modules of the smallest symbol for what a pack's label
// holds. Error correction and placement are gozxing's.
//
// # What must not be done to a sheet
//
// Scaled to fit the page, a module may fall below what a scanner can see, so the
// sheet says to print it at 100 % and has a line of 100 mm to be measured.
package draw
