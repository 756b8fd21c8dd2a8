// Package wedge undoes what keyboard scanners do to the text of a symbol.
//
// A keyboard scanner ("wedge") types what it reads. Typing loses things:
//
//   - The separator U+001D has no key, so it arrives as <GS>, {GS}, |, @, ^], /,
//     \F, as the digits 029, or not at all.
//   - A carriage return, a tab or a space follows, or whatever else the scanner
//     is set up to type before and after each code.
//   - Caps Lock swaps the case of every letter, and on French and other
//     keyboards Shift for every key.
//   - A scanner that is set for one country's keyboard, on a computer set for
//     another's, swaps brackets, Y and Z, A and Q, even digits. A dead key joins
//     the letter behind it: ]e0 arrives as ë0.
//   - Two symbols arrive as one line.
//
// # Separators
//
// Some of this can be undone with certainty. A character that no GS1 value may
// hold was not in the symbol, so it stands for the separator. The rest cannot:
// "10AB2117" is lot AB2117, or lot AB and serial 17, and a slash may be a
// separator or part of a lot. ReadGS1 then returns every reading that fits, best
// first by how labels are usually laid out, and the person touches the one that
// is printed.
//
// One reading is chosen only where the order of identifiers on earlier confirmed
// scans of the product (Known) and the shape of its lots and serials both single
// it out, and a warning says so. By the order alone one would be wrong in four
// of five cases when the maker has changed it.
//
// # Keys
//
// Typed and Remap translate between keyboards: which keys a scanner presses for
// a text, and what a computer types for them. The caller tries them on texts that
// can't be read otherwise and believes only what proves itself.
//
// # Profiles
//
// A Profile says what one scanner does. It is found once, by Diagnose, from the
// scans of four codes whose texts are known (SheetCodes), and cures most of the
// doubt at the source. A text that does not look as the profile says is read
// without it and says so. Caps Lock is never trusted to stay as it was.
//
// # What cannot be seen
//
// Without a profile and without a symbology identifier, some changes leave no
// trace in a text:
//
//   - a lot that is printed with small letters and typed with Caps Lock on, or by
//     a scanner that sends capitals only;
//   - a wrong layout that leaves digits in their places and swaps nothing but what
//     lots may hold: Y and Z, or - and / between German or Spanish and US
//     keyboards (in HIBC the check character sees it, unless as many Y as Z are
//     swapped);
//   - a suffix of letters or digits, which becomes the end of the lot;
//   - a separator that is sent as a letter or a digit, but for 029;
//   - the end of a lot that did not arrive, since its length is not known.
//
// With the identifier, which scanners can be set to send, the first two are
// seen. The test sheet finds all but the last.
package wedge
