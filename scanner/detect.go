package scanner

import (
	"strings"

	"lotbook/scanner/gs1"
	"lotbook/scanner/hibc"
	"lotbook/scanner/wedge"
)

// readPiece reads what is meant to be one symbol.
func readPiece(text string, opts Options) []Code {
	text = strings.TrimFunc(text, frames)
	cs := identify(text, opts)
	switch {
	case good(cs) && len(cs) > 1:
		if f := fronted(text, Code{Carrier: CarrierPlain}, opts); good([]Code{f}) && cs[0].Symbology == "" && cs[0].GTIN != cs[1].GTIN {
			return []Code{doubt(text, []Code{f, cs[0]}, startDamaged)}
		}
		return cs
	case good(cs) && cs[0].Carrier == CarrierHIBC && misplacedIdentifier(text) && mendable(text, opts):
		for _, m := range remapped(text, opts) {
			if m.codes[0].Symbology != "" && len(m.codes) == 1 {
				cs = append(cs, m.codes[0])
			}
		}
		if len(cs) > 1 {
			return []Code{doubt(text, cs, layoutDoubt)}
		}
		return cs
	case good(cs):
		cs[0] = relaid(text, cs[0], opts)
	case cs[0].Error != nil && cs[0].Error.Code == twoSymbols:
		return cs
	default:
		if mended := mend(text, opts); mended != nil {
			return mended
		}
	}
	if len(cs) == 1 && cs[0].Symbology == "" {
		cs[0] = fronted(text, cs[0], opts)
	}
	return cs
}

// frames reports whether a scanner or a line may put a character around what it
// sends: STX, ETX and the other controls, but for the separator.
func frames(r rune) bool { return r < ' ' && r != gs1.Separator || r == 0x7f }

// good reports whether codes were read for certain to be codes.
func good(cs []Code) bool {
	for _, c := range cs {
		if c.Error != nil || c.Carrier == CarrierPlain {
			return false
		}
	}
	return len(cs) > 0
}

// identify reads a text by its symbology identifier, or by what it looks like.
func identify(text string, opts Options) []Code {
	id, rest := cutSymbology(strings.TrimLeft(text, " "))
	if id == "" {
		return detect(text, opts)
	}
	switch {
	case id == "]E0" && !opts.remapped && capital(rest, opts):
		// Caps Lock turns ]e0 into ]E0.
		opts.swapped = true
		c := interpret("]e0", wedge.SwapCase(rest), false, opts)
		c.warn(capsLock)
		return []Code{c}
	case id == "]e0" && len(rest) == 13 && gs1.HasCheckDigit(rest):
		if els, err := gs1.Parse(rest, opts.Now); err != nil || !productionOnly(els) {
			c := interpret("]E0", rest, false, opts)
			c.warn(capsLock)
			return []Code{c}
		}
	}
	if classOf(id) == classOther {
		if hibc.Is(rest) {
			cs := detect(rest, opts)
			for i := range cs {
				cs[i].Symbology = id
			}
			return cs
		}
		rest = strings.TrimRight(rest, " ")
	}
	return []Code{interpret(id, rest, false, opts)}
}

// capital reports whether a text behind ]E0 is no EAN-13 but an element string.
func capital(rest string, opts Options) bool {
	if len(rest) <= 13 {
		return false
	}
	_, err := wedge.ReadGS1(wedge.SwapCase(rest), wedge.Context{Now: opts.Now, Profile: opts.Profile, Identified: true})
	return err == nil
}
