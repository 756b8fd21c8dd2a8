// Package xlsx draws a [reports.Workbook] as an Office Open XML workbook
// (ECMA-376), through excelize's stream writer.
//
// # What is in the file
//
// Numbers, dates and times are numbers with a format, in the 1900 date system;
// instants are in the Workbook's zone. A table sheet has one header row, which
// stays in view, is repeated on each printed page and carries the filters.
// More than [MaxRows] rows go on in a further sheet of the same name with a
// number. A printed page takes a whole row, or a part of a very wide one with
// the frozen columns again, and has its number and the caution at the foot.
//
// # What Excel can't hold
//
//   - An instant in the hour that comes twice when summer time ends shows its
//     offset from UTC, as the clock alone would not say which it was.
//   - A date before 1900-03-01 or after 9999-12-31, a negative duration and a
//     number of more than 15 digits are written as text, exact.
//   - Text longer than [MaxText] is cut and ends in a mark that says so.
//
// # Text is text
//
// Every text is an inline string in a cell that is formatted as text, so
// neither opening the file nor editing the cell makes a formula of "=1+1".
// This package writes no formula at all.
//
// # Temporary files
//
// Beyond 16 MB of a sheet the stream writer goes on in a temporary file, and
// that holds patients' data. [Write] makes a folder of its own, for the owner
// only, inside [Options].TempDir, and removes it before it returns. A process
// that is killed leaves it behind: call [Sweep] at the next start.
package xlsx
