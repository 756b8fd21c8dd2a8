package gs1

import "fmt"

// A Code names a kind of error or warning. The texts are part of the
// interface and do not change.
type Code string

// The codes of errors.
const (
	BadDate           Code = "bad_date"
	BadTime           Code = "bad_time"
	BadCheckDigit     Code = "bad_check_digit"
	BadCharset        Code = "bad_charset"
	BadValue          Code = "bad_value"
	BadCountry        Code = "bad_country"
	BadCurrency       Code = "bad_currency"
	BadIBAN           Code = "bad_iban"
	TooLong           Code = "too_long"
	TooShort          Code = "too_short"
	EmptyValue        Code = "empty_value"
	UnknownAI         Code = "unknown_ai"
	TooManyElements   Code = "too_many_elements"
	BadBrackets       Code = "bad_brackets"
	MutexAI           Code = "mutex_ai"
	ConflictingRepeat Code = "conflicting_repeat"

	LinkNoKey        Code = "dl_no_key"
	LinkPathOrder    Code = "dl_path_order"
	LinkUnknownParam Code = "dl_unknown_numeric_param"
	LinkDuplicate    Code = "dl_duplicate_param"
	LinkNotAttribute Code = "dl_not_a_param"
	LinkBadURI       Code = "dl_bad_uri"
	LinkBadPercent   Code = "dl_bad_percent"
	NotDigits        Code = "not_digits"
	BadLength        Code = "bad_length"

	// Warnings.
	RequisiteAI       Code = "requisite_ai"
	DateDay00         Code = "date_day_00"
	LinkParamInQuery  Code = "dl_qualifier_in_query"
	LinkShortGTIN     Code = "dl_short_gtin"
	LinkWord          Code = "dl_word"
	LinkTrailingSlash Code = "dl_trailing_slash"
	LinkParamIgnored  Code = "dl_param_ignored"
)

// An Error says why a text is no valid element string or Digital Link.
type Error struct {
	Code Code
	// AI is the identifier at fault, "" if it is none in particular.
	AI string
	// Offset is the byte position in the text that was given, -1 if the
	// fault has no single place.
	Offset int
	// Reason says what is wrong, in the words of someone who reads labels.
	Reason string
}

func (e *Error) Error() string {
	if e.AI == "" {
		return e.Reason
	}
	return fmt.Sprintf("AI (%s): %s", e.AI, e.Reason)
}

// A Warning is something that was tolerated.
type Warning struct {
	Code    Code
	AI      string
	Message string
}

// A problem is what a rule finds wrong with a value. It is a small number so
// that the search for lost separators, which fails thousands of times for
// each text, allocates nothing.
type problem uint8

const (
	fine problem = iota
	emptyValue
	tooShort
	tooLong
	separatorInValue
	notDigit
	notSet82
	notSet39
	notSet64
	padding64
	badMonth
	badDay
	badHour
	badMinute
	badSecond
	badCheckDigit
	badCheckPair
	noPrefix
	badCountry
	badCountry2
	badCurrency
	badIBANCountry
	badIBANLength
	badIBANChar
	badIBANSum
	badPercent
	notZero
	isZero
	zeroPrefix
	onlyDigits
	notYesNo
	badPiece
	badPosition
	badWinding
	badSex
	badMedia
	badLatitude
	badLongitude
	notHyphen
	badImporter
	badPackage
	badCoupon
	unknownAI
	doubledSeparator
	tooMany
)

// problems gives each problem its code and sentence.
var problems = [...]struct {
	code Code
	text string
}{
	emptyValue:       {EmptyValue, "the value is empty; the label was read only in part, scan it again"},
	tooShort:         {TooShort, "the value is too short; the label was read only in part, scan it again"},
	tooLong:          {TooLong, "the value is too long; a separator was probably lost on the way, check the scanner's set-up"},
	separatorInValue: {TooShort, "a separator stands inside the value; the label is coded wrongly, type what is printed"},
	notDigit:         {BadCharset, "a character that is no digit stands where only digits may; scan it again or type what is printed"},
	notSet82:         {BadCharset, "a character stands in the value that GS1 does not allow there (character set 82); scan it again or type what is printed"},
	notSet39:         {BadCharset, "a character stands in the value that GS1 does not allow there (character set 39: capitals, digits, # - /); scan it again or type what is printed"},
	notSet64:         {BadCharset, "a character stands in the value that is no URI-safe base 64; scan it again"},
	padding64:        {BadValue, "the padding of the base 64 value is wrong; scan it again"},
	badMonth:         {BadDate, "the month is none of 01 to 12; check the date that is printed"},
	badDay:           {BadDate, "that month has no such day; check the date that is printed"},
	badHour:          {BadTime, "the hour is none of 00 to 23; check the time that is printed"},
	badMinute:        {BadTime, "the minute is none of 00 to 59; check the time that is printed"},
	badSecond:        {BadTime, "the second is none of 00 to 59; check the time that is printed"},
	badCheckDigit:    {BadCheckDigit, "the check digit does not fit; scan it again, and if that does not help compare the digits with the print"},
	badCheckPair:     {BadCheckDigit, "the pair of check characters does not fit; scan it again, and if that does not help compare it with the print"},
	noPrefix:         {BadValue, "the value does not begin with a company prefix (at least four digits); compare it with the print"},
	badCountry:       {BadCountry, "the value names no country of ISO 3166; compare it with the print"},
	badCountry2:      {BadCountry, "the two letters name no country of ISO 3166; compare them with the print"},
	badCurrency:      {BadCurrency, "the first three digits name no currency of ISO 4217; compare them with the print"},
	badIBANCountry:   {BadIBAN, "the account number does not begin with a country code; compare it with the print"},
	badIBANLength:    {BadIBAN, "the account number is too short for an IBAN; compare it with the print"},
	badIBANChar:      {BadIBAN, "the account number holds a character that no IBAN has; compare it with the print"},
	badIBANSum:       {BadIBAN, "the check digits of the account number do not fit; compare it with the print"},
	badPercent:       {BadValue, "a % is not followed by two hexadecimal digits; the label is coded wrongly"},
	notZero:          {BadValue, "the first digit is not 0; compare it with the print"},
	isZero:           {BadValue, "a part that may not be zero is zero; compare it with the print"},
	zeroPrefix:       {BadValue, "the number begins with 0, which it may not; compare it with the print"},
	onlyDigits:       {BadValue, "the value holds digits only and must hold another character too; compare it with the print"},
	notYesNo:         {BadValue, "the flag is neither 0 nor 1; compare it with the print"},
	badPiece:         {BadValue, "the piece number and the number of pieces make no sense together; compare them with the print"},
	badPosition:      {BadValue, "the value is not of the form 1/2; compare it with the print"},
	badWinding:       {BadValue, "the winding direction is none of 0, 1 and 9; compare it with the print"},
	badSex:           {BadValue, "the digit is none of 0, 1, 2 and 9 (ISO/IEC 5218); compare it with the print"},
	badMedia:         {BadValue, "the media type is not assigned; compare it with the print"},
	badLatitude:      {BadValue, "the latitude is above 180 degrees from the south pole; compare it with the print"},
	badLongitude:     {BadValue, "the longitude is above 360 degrees; compare it with the print"},
	notHyphen:        {BadValue, "the last character may only be a hyphen (below zero); compare it with the print"},
	badImporter:      {BadCharset, "the importer index is no letter, digit, hyphen or underscore; compare it with the print"},
	badPackage:       {BadValue, "the package type is not in the code list of UN/ECE recommendation 21; compare it with the print"},
	badCoupon:        {BadValue, "the coupon's parts do not add up; scan it again"},
	unknownAI:        {UnknownAI, "no application identifier begins here; scan it again, and if that does not help type what is printed"},
	doubledSeparator: {UnknownAI, "two separators follow each other, and no application identifier stands between them; scan it again"},
	tooMany:          {TooManyElements, "there are more elements than any label carries; this is not one label"},
}

func (p problem) at(a *AI, offset int) *Error {
	e := &Error{Code: problems[p].code, Offset: offset, Reason: problems[p].text}
	if a != nil {
		e.AI = a.code
	}
	return e
}
