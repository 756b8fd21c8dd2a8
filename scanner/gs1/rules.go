package gs1

import "strings"

// A rule is a check on one component of a value, named as in the GS1 Barcode
// Syntax Dictionary.
type rule uint8

const (
	noRule rule = iota
	ruleCsum
	ruleCsumalpha
	ruleGcppos1
	ruleGcppos2
	ruleYymmdd
	ruleYymmd0
	ruleYyyymmdd
	ruleHhmi
	ruleHh
	ruleMi
	ruleSs
	ruleIso3166
	ruleIso3166999
	ruleIso3166alpha2
	ruleIso4217
	ruleIban
	rulePcenc
	ruleZero
	ruleNonzero
	ruleNozeroprefix
	ruleHasnondigit
	ruleYesno
	rulePieceoftotal
	rulePosinseqslash
	ruleWinding
	ruleIso5218
	ruleMediatype
	ruleLatitude
	ruleLongitude
	ruleHyphen
	ruleImporteridx
	rulePackagetype
	ruleCouponcode
	ruleCouponposoffer
)

// check runs one rule on a component that is already known to be of its
// character set and length. year is the current one.
func (r rule) check(v string, year int) problem {
	switch r {
	case ruleCsum:
		return when(!HasCheckDigit(v), badCheckDigit)
	case ruleCsumalpha:
		return checkPair(v)
	case ruleGcppos1:
		return companyPrefix(v)
	case ruleGcppos2:
		return companyPrefix(v[1:])
	case ruleYymmdd, ruleYymmd0:
		return checkDate(window(two(v), year), two(v[2:]), two(v[4:]), r == ruleYymmd0)
	case ruleYyyymmdd:
		return checkDate(two(v)*100+two(v[2:]), two(v[4:]), two(v[6:]), false)
	case ruleHhmi:
		if two(v) > 23 {
			return badHour
		}
		return when(two(v[2:]) > 59, badMinute)
	case ruleHh:
		return when(two(v) > 23, badHour)
	case ruleMi:
		return when(two(v) > 59, badMinute)
	case ruleSs:
		return when(two(v) > 59, badSecond)
	case ruleIso3166:
		return when(!listed(countries, v, 3), badCountry)
	case ruleIso3166999:
		return when(v != "999" && !listed(countries, v, 3), badCountry)
	case ruleIso3166alpha2:
		return when(!listed(countryLetters, v, 2), badCountry2)
	case ruleIso4217:
		return when(!listed(currencies, v, 3), badCurrency)
	case ruleIban:
		return checkIBAN(v)
	case rulePcenc:
		return checkPercent(v)
	default:
		return r.checkSmall(v)
	}
}

// checkSmall holds the rules that are a line or two each.
func (r rule) checkSmall(v string) problem {
	switch r {
	case ruleZero:
		return when(v != "0", notZero)
	case ruleNonzero:
		return when(allZero(v), isZero)
	case ruleNozeroprefix:
		return when(v[0] == '0' && v != "0", zeroPrefix)
	case ruleHasnondigit:
		return when(allDigits(v), onlyDigits)
	case ruleYesno:
		return when(v != "0" && v != "1", notYesNo)
	case rulePieceoftotal:
		h := len(v) / 2
		return when(allZero(v[:h]) || allZero(v[h:]) || v[:h] > v[h:], badPiece)
	case rulePosinseqslash:
		pos, end, ok := strings.Cut(v, "/")
		return when(!ok || !counting(pos) || !counting(end) ||
			len(pos) > len(end) || len(pos) == len(end) && pos > end, badPosition)
	case ruleWinding:
		return when(v != "0" && v != "1" && v != "9", badWinding)
	case ruleIso5218:
		return when(v != "0" && v != "1" && v != "2" && v != "9", badSex)
	case ruleMediatype:
		// 01 to 10 and 80 to 99 are assigned by ICCBBA.
		n := two(v)
		return when(n < 1 || n > 10 && n < 80, badMedia)
	case ruleLatitude:
		return when(v > "1800000000", badLatitude)
	case ruleLongitude:
		return when(v > "3600000000", badLongitude)
	case ruleHyphen:
		return when(v != "-", notHyphen)
	case ruleImporteridx:
		return when(members[v[0]]&setZ == 0, badImporter)
	case rulePackagetype:
		return when(!listedPackage(v), badPackage)
	case ruleCouponcode:
		return checkCoupon(v)
	case ruleCouponposoffer:
		return checkOffer(v)
	default:
		return fine
	}
}

func when(bad bool, p problem) problem {
	if bad {
		return p
	}
	return fine
}

// two reads the first two digits of v.
func two(v string) int { return int(v[0]-'0')*10 + int(v[1]-'0') }

func allZero(v string) bool { return strings.Trim(v, "0") == "" }

func allDigits(v string) bool {
	for i := range len(v) {
		if !isDigit(v[i]) {
			return false
		}
	}
	return v != ""
}

// counting reports whether v is a number of 1 or more without leading zeros.
func counting(v string) bool { return allDigits(v) && v[0] != '0' }

// companyPrefix checks what is certain of a GS1 Company Prefix without GS1's
// own register: at least four digits.
func companyPrefix(v string) problem {
	return when(len(v) < 4 || !allDigits(v[:4]), noPrefix)
}

// checkPercent holds v against RFC 3986, 2.1.
func checkPercent(v string) problem {
	for i := 0; i < len(v); i++ {
		if v[i] != '%' {
			continue
		}
		if i+2 >= len(v) || hex(v[i+1]) < 0 || hex(v[i+2]) < 0 {
			return badPercent
		}
		i += 2
	}
	return fine
}

func hex(c byte) int {
	switch {
	case isDigit(c):
		return int(c - '0')
	case 'a' <= c && c <= 'f':
		return int(c-'a') + 10
	case 'A' <= c && c <= 'F':
		return int(c-'A') + 10
	default:
		return -1
	}
}

// checkIBAN holds v against ISO 13616-1: a country, two check digits, and the
// remainder of 1 modulo 97.
func checkIBAN(v string) problem {
	if len(v) < 4 {
		return badIBANLength
	}
	if !listed(countryLetters, v[:2], 2) {
		return badIBANCountry
	}
	if len(v) <= 10 {
		return badIBANLength
	}
	sum := 0
	for i := range len(v) {
		c := v[(i+4)%len(v)]
		switch {
		case isDigit(c):
			sum = sum*10 + int(c-'0')
		case 'A' <= c && c <= 'Z':
			sum = sum*100 + int(c-'A') + 10
		default:
			return badIBANChar
		}
		sum %= 97
	}
	return when(sum != 1, badIBANSum)
}
