package inventory

import "strings"

// Packs whose maker numbers them with another issuing agency than GS1 are known
// by that agency's device identifier, written as a code:
//
//	hibc:A99912345             HIBC: labeler A999, product 1234, packaging level 5
//	iccbba:A9999XYZ100T0944    ICCBBA: the 16 characters after "=/"
//
// (ANSI/HIBC 2.6, 2.2.1: a letter and three letters or digits, then 1 to 18
// letters or digits, then a digit; ISBT 128 Standard Technical Specification,
// data structure 032.) Like a GTIN, a code may be scanned before anyone has
// catalogued it: it then is the product's provisional id.
const (
	agencyHIBC   = "hibc:"
	agencyICCBBA = "iccbba:"
)

// HIBCCode returns the code of a pack with a HIBC primary label.
func HIBCCode(labeler, product, level string) ProductID {
	return ProductID(agencyHIBC + labeler + product + level)
}

// ICCBBACode returns the code of a pack with an ICCBBA device identifier.
func ICCBBACode(di string) ProductID { return ProductID(agencyICCBBA + di) }

// ValidCode reports whether s is a code of an agency other than GS1.
func ValidCode(s string) bool {
	if di, ok := strings.CutPrefix(s, agencyICCBBA); ok {
		return len(di) == 16 && plainCapitals(di)
	}
	n, ok := strings.CutPrefix(s, agencyHIBC)
	return ok && len(n) >= 6 && len(n) <= 23 && plainCapitals(n) && n[0] >= 'A' && n[len(n)-1] <= '9'
}

func plainCapitals(s string) bool {
	for i := range len(s) {
		if !('0' <= s[i] && s[i] <= '9' || 'A' <= s[i] && s[i] <= 'Z') {
			return false
		}
	}
	return true
}

// code returns the code that an id is, and whether it is one.
func (id ProductID) code() (string, bool) {
	s := string(id)
	return s, strings.HasPrefix(s, agencyHIBC) || strings.HasPrefix(s, agencyICCBBA)
}

// Provisional reports whether an id is that of a product known only by what its
// pack's code says: a GTIN, or another agency's code.
func (id ProductID) Provisional() bool {
	_, gtin := id.ProvisionalGTIN()
	_, code := id.code()
	return gtin || code
}

// ProvisionalIDs returns the ids under which uses of a product were kept before
// it had its packs.
func (p *Product) ProvisionalIDs() []ProductID {
	var ids []ProductID
	for _, k := range p.Packs {
		if k.GTIN != "" {
			ids = append(ids, ProvisionalID(k.GTIN))
		}
		if k.Code != "" {
			ids = append(ids, ProductID(k.Code))
		}
	}
	return ids
}

// numbers are what a pack is found by.
func (k *Pack) numbers() []string {
	var ns []string
	for _, n := range []string{k.GTIN, k.Code} {
		if n != "" {
			ns = append(ns, n)
		}
	}
	return ns
}

// ProductByCode returns the product that has a pack of another agency's code,
// and the pack; nil if none has, or if id is no such code.
func (b *Book) ProductByCode(r Reader, id ProductID) (*Product, Pack, error) {
	code, ok := id.code()
	if !ok {
		return nil, Pack{}, nil
	}
	return b.ProductByGTIN(r, code)
}
