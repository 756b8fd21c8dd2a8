package scanner_test

import (
	"slices"
	"testing"

	"lotbook/scanner"
)

// Worked examples that others published, each with its source; what is expected
// is what stands there.
func TestPublished(t *testing.T) {
	for _, c := range []struct {
		text, source                            string
		gtin, lot, serial, expires, made, error string
		ndc, product                            string
		warning                                 string
	}{
		{
			text: "(01)09504000059118(17)141120(10)7654321D(21)10987654d321", source: "HL7 FHIR, resource Device, example with a GS1 UDI",
			gtin: "09504000059118", expires: "2014-11-20", lot: "7654321D", serial: "10987654d321",
		},
		{
			text: "]d201095040000591181714112010" + "7654321D\x1d2110987654d321", source: "the same, as GS1 General Specifications 7.8 lays it out",
			gtin: "09504000059118", expires: "2014-11-20", lot: "7654321D", serial: "10987654d321",
		},
		{
			text: "(01)00643169001763(17)160712(21)21A11F4855", source: "HL7 v2.8.2, field PRT-10, example of GS1",
			gtin: "00643169001763", expires: "2016-07-12", serial: "21A11F4855",
		},
		{
			text: "+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ456789012345678/16D20130202C", source: "FDA, UDI formats by issuing agency, 1.3; its check character is known to be wrong",
			error: "hibc_check_char",
		},
		{
			text: "+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ456789012345678/16D20130202H", source: "the same with the check character of ANSI/HIBC 2.6, appendix B",
			lot: "LOT123456789012345", serial: "XYZ456789012345678", expires: "2020-02-02T16", made: "2013-02-02", product: "H123",
		},
		{
			text: "=/A9999XYZ100T0944=,000025=A99971312345600=>014032=}013032&,1000000000000XYZ123", source: "FDA, UDI formats by issuing agency, 1.3; dates as in HL7 FHIR, Device, example with an ICCBBA UDI",
			lot: "XYZ123", serial: "000025", expires: "2014-02-01", made: "2013-02-01", product: "A9999XYZ100T0944",
		},
		{
			text: "=+04000=/A9997XYZ100T0479=A99991712345600=,000012=>019031", source: "ICCBBA ST-017, 4.3.1",
			serial: "000012", expires: "2019-01-31", product: "A9997XYZ100T0479",
		},
		{text: "6291041500213", source: "GS1, how to calculate a check digit, GTIN-13", gtin: "06291041500213"},
		{text: "5012345678900", source: "GS1 General Specifications, figures of EAN-13", gtin: "05012345678900"},
		{text: "8904000210037", source: "GS1, how to calculate a check digit", gtin: "08904000210037"},
		{text: "]I109521234543213", source: "GS1 General Specifications, GTIN of examples", gtin: "09521234543213"},
		{text: "01234565", source: "GS1 General Specifications 5.2.2.4.2: the UPC-E of 012345000065, and a valid EAN-8", warning: "ean8_or_upce"},
		{text: "https://id.gs1.org/01/09520123456788", source: "GS1 Digital Link Standard: URI Syntax, 4", gtin: "09520123456788"},
		{text: "https://id.gs1.org/01/09520123456788/22/2A/10/ABC1/21/12345", source: "the order of qualifiers of the same, 4.3", gtin: "09520123456788", lot: "ABC1", serial: "12345"},
		{text: "https://example.com/gtin/9520123456788/lot/ABC1", source: "GS1 Digital Link Standard 1.1, words and short GTINs", gtin: "09520123456788", lot: "ABC1", warning: "dl_word"},
		{text: "id.gs1.org/01/09520123456788/10/ABC1", source: "the same without its scheme", gtin: "09520123456788", lot: "ABC1", warning: "dl_no_scheme"},
		// The NDC of HL7 or of a maker would name a product; this one is ours, laid out
		// as GS1 US says: indicator, 03, the ten digits, check digit.
		{text: "]d20100312345678906", source: "GS1 US, GTINs of products with an NDC", gtin: "00312345678906", ndc: "1234567890"},
	} {
		cs := scanner.Read(c.text, opts)
		if len(cs) != 1 {
			t.Errorf("%s (%s): %d codes", c.text, c.source, len(cs))
			continue
		}
		got := cs[0]
		if c.error != "" {
			if got.Error == nil || got.Error.Code != c.error {
				t.Errorf("%s (%s): %+v, want %s", c.text, c.source, got.Error, c.error)
			}
			continue
		}
		if got.Error != nil || got.GTIN != c.gtin || got.Lot != c.lot || got.Serial != c.serial || got.Expires != c.expires || got.Made != c.made || got.NDC != c.ndc {
			t.Errorf("%s (%s): %+v", c.text, c.source, got)
		}
		if c.product != "" && !slices.ContainsFunc(got.Elements, func(e scanner.Element) bool { return e.Value == c.product }) {
			t.Errorf("%s (%s): no %s in %v", c.text, c.source, c.product, got.Elements)
		}
		if c.warning != "" && !slices.ContainsFunc(got.Warnings, func(w scanner.Warning) bool { return w.Code == c.warning }) {
			t.Errorf("%s (%s): %v, want %s", c.text, c.source, got.Warnings, c.warning)
		}
	}
}
