// Package wedge undoes what keyboard scanners do to the text of a symbol.
//
// A keyboard scanner ("wedge") types what it reads. Typing loses things: the
// separator U+001D has no key, so it arrives as <GS>, {GS}, |, @, ^], / or
// not at all; a carriage return, a tab or a space follows; Caps Lock swaps the
// case of every letter; a scanner set for one country's keyboard on a computer
// set for another's swaps brackets, Y and Z, even digits; two symbols arrive as
// one line.
//
// # Never silently
//
// Some of this can be undone with certainty: a character that no GS1 value may
// hold was not in the symbol, so it stands for the separator; a symbology
// identifier in the wrong case proves Caps Lock. The rest cannot. "10AB2117"
// is lot AB2117, or lot AB and serial 17. Then every reading that fits is
// returned, best first, and the person touches the one that is printed. One is
// chosen only where the order of identifiers on earlier confirmed scans of the
// product and the shape of its lots and serials both single it out (Known),
// and a warning says so.
//
// # Profiles
//
// A Profile says what one scanner does. It is found once, with a sheet of
// known codes, and cures most of the doubt at the source.
//
// # What cannot be seen
//
// Without a profile and without a symbology identifier, two changes leave no
// trace in a text: a lot that is printed in lower case and typed with Caps Lock
// on (it arrives in capitals), and Y and Z swapped between a German and another
// keyboard.
package wedge
