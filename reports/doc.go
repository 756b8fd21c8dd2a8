// Package reports turns a question into a [Workbook] of typed cells. It knows
// nothing of file formats: [lotbook/reports/xlsx] and [lotbook/reports/csv]
// draw what is here.
//
// A Workbook has sheets of two sorts. A [Summary] is for a person: sentences,
// facts and small tables that fit a printed page. A [Table] is for a program
// or a filter: typed columns, one header row, and rows that come out of an
// iterator one at a time, so that an answer of 100,000 lines is never held
// whole.
//
// # Cells
//
// A [Cell] carries its kind. A date is a date and a number a number in the
// file that comes out, and text is only ever text: a lot number of "=1+1"
// stays those four characters. Two kinds carry no value and never look alike:
// a [Blank] is a cell that has nothing to say, and a [Mark] says in a word why
// there is no value ([NotRecorded], [NoneFound]).
//
// # Text
//
// What was scanned or typed may hold anything, separators of barcodes and
// bytes that aren't text among it. Writers put [Visible] text into a file:
// what can't be drawn is replaced by something that can be seen and traced
// back, never dropped.
//
// # Time
//
// Dates are calendar dates. Instants are drawn in the Workbook's zone, the
// unit's own. No clock is read here: who asks says when.
package reports
