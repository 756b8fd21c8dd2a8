package inventory

// A Level says how a finding is met.
type Level string

const (
	// Stop asks the person for a reason before the record counts as use.
	Stop Level = "stop"
	// Caution is shown and recorded.
	Caution Level = "caution"
)

// A Finding is what was noticed about something at the moment when it was
// recorded. It is kept in the entry. It never prevents the record.
type Finding struct {
	Code    string `json:"code"`
	Level   Level  `json:"level"`
	Message string `json:"message"`
}

// The codes of findings.
const (
	FindingExpired        = "expired"              // the last day of use is past
	FindingHeld           = "held"                 // the lot is on hold
	FindingNotPrescribed  = "not_as_prescribed"    // another concentrate than prescribed
	FindingWrongProduct   = "wrong_product"        // another product than prescribed, or none of a treatment's
	FindingShortDated     = "short_dated"          // expires soon
	FindingOlderLot       = "older_lot_open"       // a lot that expires sooner is here
	FindingSecondOfKind   = "second_of_kind"       // the treatment has all it needs of this kind
	FindingUnknownProduct = "unknown_product"      // the GTIN is not in the catalogue
	FindingBelowZero      = "below_zero"           // the book says that there are fewer here
	FindingNoLot          = "no_lot"               // recorded without a lot number
	FindingExpiryDiffers  = "expiry_differs"       // this lot was recorded with another expiry date
	FindingBoxScanned     = "box_code"             // the code of a box, not of one piece
	FindingSameSerial     = "same_serial"          // this very piece is recorded in the treatment already
	FindingNotRecorded    = "said_not_recorded"    // somebody said that a pack of this kind was used and not recorded
	FindingSimilarLot     = "similar_lot"          // a lot on record reads almost the same
	FindingReadingChosen  = "reading_chosen"       // the code could be read in several ways, and no person chose
	FindingScannerChanged = "scanner_changed"      // the scan does not look as the scanner's profile says
	FindingImplausible    = "quantity_implausible" // many times what usually comes, or what was ordered
	FindingPartOfPack     = "part_of_pack"         // the code of a box, and not as many pieces as whole boxes have
	FindingExpiryUnknown  = "expiry_unknown"       // neither the code nor the record has one
	FindingFedTwice       = "fed_twice"            // another tank feeds the station at that time
	FindingTankHeld       = "tank_held"            // the tank may still hold an older batch
	FindingNotChecked     = "not_checked"          // no second person checked the batch
	FindingContainer      = "container"            // the opened container was closed by then, not open yet, or elsewhere
	FindingOtherContent   = "other_content"        // a kit's lot was recorded with another lot of this component
)

// HasStop reports whether one of the findings is at level Stop.
func HasStop(fs []Finding) bool {
	for _, f := range fs {
		if f.Level == Stop {
			return true
		}
	}
	return false
}
