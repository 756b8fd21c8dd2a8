package scanner

// A Code is what one symbol, or one line from a keyboard scanner, says.
//
// Its JSON form is the line that `lotbook read` prints and that POST /v1/read
// answers with; the member names are relied on by other programs and never
// change. Empty members are left out.
//
// A Code either has Error set, and then nothing in it is guessed (Source,
// Symbology and Raw only), or it has none and then every member that is set
// was read from the text, with Warnings for what was tolerated.
type Code struct {
	// Source names where the code came from: a file name, or "-" for
	// standard input.
	Source string `json:"source,omitempty"`
	// Symbology is the AIM symbology identifier (ISO/IEC 15424), such as
	// "]d2" for a GS1 DataMatrix or "]C1" for a GS1-128.
	Symbology string `json:"symbology,omitempty"`
	// Raw is the text as carried, without the symbology identifier, with
	// each separator as U+001D.
	Raw string `json:"raw,omitempty"`
	// Carrier says which grammar the text follows.
	Carrier Carrier `json:"carrier,omitempty"`
	// GTIN is always 14 digits, padded with zeros on the left. On the label
	// of a shipping unit it is that of the content, AI (02), and a warning
	// "content_gtin" says so.
	GTIN string `json:"gtin,omitempty"`
	// NDC is the ten digits of the US National Drug Code that the GTIN holds,
	// if it holds one; where its hyphens stand cannot be told.
	NDC string `json:"ndc,omitempty"`
	// Lot is the lot or batch number exactly as carried; case matters.
	Lot string `json:"lot,omitempty"`
	// Serial is the serial number exactly as carried.
	Serial string `json:"serial,omitempty"`
	// Expires is a calendar date "2027-03-31". A day 00 is resolved to the
	// last day of its month. HIBC may carry a month only ("2027-03") or an
	// hour ("2027-03-31T22"), AI (7003) a time ("2027-03-31T22:10:00"). It is
	// the date of AI (17), or without one that of (7003).
	Expires string `json:"expires,omitempty"`
	// Made is the production date in the same form as Expires, from AI (11),
	// or without one from (8008).
	Made string `json:"made,omitempty"`
	// Quantity is the count that the label states (AI 30 or 37, HIBC
	// quantity); 0 when it states none.
	Quantity int `json:"quantity,omitempty"`
	// Elements are all elements in the order carried, repeats kept. When
	// there are Candidates and none was chosen, they are only the elements
	// that all candidates have; but a text that came with a symbology
	// identifier and is valid as it stands has its elements as they stand,
	// and only the members above are left empty.
	Elements []Element `json:"elements,omitempty"`
	// Candidates are the readings that fit a text that can be read in
	// several ways (lost separators, a possible Caps Lock, eight digits that
	// are EAN-8 and UPC-E), best first. The members above that they disagree
	// on are left empty, unless one was Chosen.
	Candidates []Candidate `json:"candidates,omitempty"`
	// Chosen says that the first of the Candidates was taken, for what a
	// warning says: the members are its, and the others are listed for the
	// person to correct the choice.
	Chosen   bool      `json:"chosen,omitempty"`
	Warnings []Warning `json:"warnings,omitempty"`
	Error    *Fault    `json:"error,omitempty"`
}

// A Carrier names the grammar of a code's text.
type Carrier string

// The grammars. ICCBBA is ISBT 128 data for devices. Plain text is anything that
// no grammar claims.
const (
	CarrierGS1         Carrier = "gs1"
	CarrierHIBC        Carrier = "hibc"
	CarrierDigitalLink Carrier = "digital-link"
	CarrierICCBBA      Carrier = "iccbba"
	CarrierPlain       Carrier = "plain"
)

// An Element is one data element: its application identifier (for HIBC a field
// name such as "lic" or "lot"), its title and its value as carried; a date of
// HIBC is in the form of Code.Expires.
type Element struct {
	AI    string `json:"ai"`
	Title string `json:"title,omitempty"`
	Value string `json:"value"`
}

// A Candidate is one valid reading of a text whose separators were lost.
type Candidate struct {
	GTIN     string    `json:"gtin,omitempty"`
	Lot      string    `json:"lot,omitempty"`
	Serial   string    `json:"serial,omitempty"`
	Expires  string    `json:"expires,omitempty"`
	Made     string    `json:"made,omitempty"`
	Quantity int       `json:"quantity,omitempty"`
	Elements []Element `json:"elements"`
}

// A Warning is something that was tolerated; the reading stands.
type Warning struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

// A Fault is why a text could not be read as a code. Message says what is
// wrong and what to do.
type Fault struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

// Error implements the error interface.
func (f *Fault) Error() string { return f.Code + ": " + f.Message }
