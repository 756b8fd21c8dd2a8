// Package picture reads the barcodes in a photograph.
//
// Decode takes the bytes of a PNG, JPEG or WebP picture, Read an image.Image.
// Both give every symbol that they are sure of: what kind it is (the AIM
// symbology identifier, which says whether the text is GS1 element strings),
// its text with each separating FNC1 as U+001D, and its corners. What the text
// means is not this package's business: see lotbook/scanner/gs1 and hibc.
//
// # How a picture is read
//
// The decoders, which turn modules or bar widths into text, are gozxing's as far
// as they are right. What loses symbols in photographs is finding them and
// laying a grid over them, so that part is done here:
//
//   - The picture becomes shades of gray, and a pyramid of halves of it
//     (gray.go, search.go). Each kind of symbol is looked for on the half
//     first, where edges are cleaner and pixels fewer, then on the whole and on
//     the quarter.
//   - A DataMatrix is bounded on two sides by a solid L. Straight edges are
//     grown from the gradient (gradient.go, segment.go), paired to corners
//     (corner.go), and closed by the two far sides, which alternate
//     (farside.go). The alternation tells the size (dmsize.go).
//     Where columns or rows are of uneven width, the alternation gives the place of
//     each (uneven.go).
//   - A QR code has three square position patterns (finder.go), which give its
//     place and roughly its size (qr.go).
//   - Both then become a lattice: a projective map, with a bow on each side for
//     labels around a bottle, moved until the modules that are known beforehand
//     come out right (lattice.go, projective.go). The modules are sampled and
//     cut into dark and light in several ways (levels.go, modules.go), and the
//     error correction says which one is a symbol. If none is, the code words that
//     can be trusted least, those under glare first, are given to it as erasures,
//     ever more of them (erasures.go). The code words of a DataMatrix are read here
//     (dmwords.go, dmtext.go, charset.go), since gozxing takes the number of an
//     ECI for text; those of a QR code by gozxing's parser (qrwords.go).
//   - A linear symbol is a region whose edges all run one way (barregion.go).
//     Strips across it, along its middle line (from aside, that is not square to
//     the bars), are averaged along the bars, sharpened and cut into bars and
//     spaces (profile.go, row.go); Code 128 is pulled onto whole modules
//     (snap128.go), and put together from both ends where no line crosses it whole
//     (ends128.go); EAN is drawn again and compared (redraw.go).
//   - Where blur has run the bars together, Code 128, EAN-13 and UPC-A, ITF-14 and
//     HIBC in Code 39 are read without edges: of all texts the one is sought whose
//     bars, blurred by a kernel of unknown width, would look most like the line
//     (barmodel.go, barkinds.go, barstart.go, barbeam.go, barlikely.go).
//   - GS1 DataBar is decoded here, by the distances between like edges
//     (databar.go), and put together from the rows of stacked symbols
//     (databaromni.go, databarlimited.go, databarexpanded.go, databartext.go).
//   - Several pictures of one pack can be read together (frames.go, evidence.go).
//     What one of them shows is read as ever. The modules of a DataMatrix or QR
//     code that is found in several and can be decoded in none are added up, each
//     by how sure it is; the lines of linear codes vote over all pictures; and of
//     a Code 128 one picture may give the beginning and another one the end.
//   - At last gozxing's own readers are asked (plain.go), and a small picture
//     is looked at enlarged (enlarge.go).
//
// # Why not one word too many
//
// A wrong lot number is worse than none. So: a linear symbol counts only when
// strips at different heights agree and no other text comes near; blurred bars
// count only where each word fits the line about as well as the others do; short
// Code 128 needs clear space; a DataMatrix is not decoded before its sides are
// right to 85 or 92 in 100 modules; a symbol whose character set isn't known is
// left out.
//
// The code words of Code 128 are turned into text here (code128.go), because
// of what the check character does: it may have the value of a function
// character, and a reader that takes it as data then adds a separator (102) or
// changes the identifier (97). A reader that isn't told to expect GS1 drops the
// separators, and the lot runs into the serial number behind it.
//
// # What is read
//
// GS1 DataMatrix and DataMatrix ECC 200, square, rectangular and DMRE, also
// mirrored and light on dark; GS1 QR and QR; GS1-128 and Code 128; Code 39;
// EAN-13, EAN-8, UPC-A and UPC-E (all but EAN-8 as 13 digits); ITF-14 with a
// right check digit; GS1 DataBar Omnidirectional, Truncated, Stacked, Stacked
// Omnidirectional, Limited, Expanded and Expanded Stacked. HIBC is text in one
// of these.
//
// # What is not
//
//   - Composite components (a DataBar Expanded that says it has one is left
//     out, since its text isn't whole); PDF417, Aztec, Micro QR, rMQR (rectangular
//     Micro QR, ISO/IEC 23941), Code 93, Codabar, and DataMatrix older than ECC 200.
//   - A DataMatrix with an ECI of a character set that isn't known or isn't
//     text. Without ECI its bytes are taken as ISO 8859-1, as the standard
//     says; UTF-8 without ECI comes out as two characters each.
//   - An ITF of other than 14 digits, a Code 39 of fewer than four characters,
//     a Code 128 of fewer than two code words between start and check: too
//     easily seen in other things. Supplements of EAN are not read. Structured
//     append is not put together.
//   - Modules below some 1.3 pixels (1 for bars), blur of more than some 0.5 modules
//     (0.9 for the bars that are read without edges, 0.4 for other bars), motion of
//     more than two modules, and glare over more than the error correction bears,
//     in all pictures of a pack.
//   - Two packs in pictures that are said to be of one: what both show whole is
//     read, but nothing tells that they are two.
//
// # Limits
//
// A picture of more than Options.MaxPixels is refused by its header, before
// its pixels are decoded. The time is bounded by the context and by
// Options.Deadline; what was found until then is returned with the error. A
// panic in a decoder loses what it was looking at, not the program.
//
// The pictures of the tests are of an independent encoder and of others'
// photographs (testdata/README.md); the camera that turns, bends and spoils
// them is a model (internal/camera). Command report compares this package with
// another reader.
package picture
