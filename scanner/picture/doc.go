// Package picture reads the barcodes in a photograph.
package picture
