// Package letter draws the summaries of a [reports.Workbook] as one page of HTML
// for print: a letter that can be signed by hand. It has no scripts and fetches
// nothing. A blank value becomes a line to write on.
package letter
