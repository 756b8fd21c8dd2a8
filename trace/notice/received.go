package notice

import "lotbook/inventory"

// A Receipt says in one word whether anything that a notice means was received
// here. "None" and "not known" are different answers.
type Receipt string

// The receipts.
const (
	// ReceivedSome: a lot that is meant is on record.
	ReceivedSome Receipt = "received"
	// ReceivedNone: every product is matched and every lot decided on, and no
	// lot that is meant is on record.
	ReceivedNone Receipt = "none_received"
	// ReceivedUnnumbered: no lot that is meant is on record, but pieces of its
	// product without a lot number are, of which nobody can tell.
	ReceivedUnnumbered Receipt = "unnumbered_only"
	// ReceiptUnknown: nothing that is certainly meant is on record, and
	// something is left for a person to find out first.
	ReceiptUnknown Receipt = "not_known"
)

// Receipt says whether anything that the notice means was received.
func (a *Answer) Receipt() Receipt {
	open, unnumbered := len(a.Unmatched) > 0 || a.Undecided > 0, false
	for i := range a.Lots {
		l := &a.Lots[i]
		switch {
		case !l.OnRecord || l.Verdict == inventory.NotMeant:
		case l.Verdict == inventory.Meant || l.Part:
			return ReceivedSome
		case l.Lot == "":
			unnumbered = true
		}
	}
	switch {
	case open:
		return ReceiptUnknown
	case unnumbered:
		return ReceivedUnnumbered
	}
	return ReceivedNone
}

// Words say it in a sentence, for people.
func (r Receipt) Words() string {
	switch r {
	case ReceivedSome:
		return "Received: lots that the notice names are on record in this unit."
	case ReceivedNone:
		return "None received: the record was searched for every product and lot named, and no delivery, count or use of any of them is in it."
	case ReceivedUnnumbered:
		return "No lot that the notice names is on record. Pieces of its product without a lot number are, and they may have been of those lots: this is not an answer of none received."
	}
	return "Not known yet: products of the notice are not matched to this unit's, or lots on record may be meant and nobody has decided on them. This is not an answer of none received."
}
