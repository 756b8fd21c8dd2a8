package inventory

import (
	"fmt"
	"slices"
	"strings"
)

// A Question is what has to be asked about a delivery, or a line of one, before
// it is recorded. Which questions there are depends on the book as it stands:
// another clerk may have received the same line in between.
type Question struct {
	Code    string
	Message string
	// Answers are what may be said.
	Answers []string
}

// The questions about what becomes of a line's pieces. One answer is given for
// the line; where it is to accept, each of these must be confirmed by its code
// as well, so that nothing is accepted that nobody was told.
const (
	AskDamaged      = "damaged"         // somebody said so
	AskWrongProduct = "wrong_product"   // it is not on the order
	AskOver         = "over"            // more than was ordered
	AskExpired      = "expired"         // on arrival
	AskShortDated   = "short_dated"     // expires soon
	AskHeld         = "held"            // the lot is on hold
	AskUnknown      = "unknown_product" // the catalogue does not know it
)

// The questions that are confirmed, or answered by another line.
const (
	AskLabelAgain  = "label_again"          // this very label was received before
	AskLineAgain   = "line_again"           // the same lot in the same pack came with this delivery
	AskContained   = "contained"            // it may be part of what was received already
	AskImplausible = "quantity_implausible" // many times what usually comes
	AskPartOfPack  = "part_of_pack"         // a box was scanned, and the pieces are no whole boxes
	AskCount       = "count_differs"        // the label and the catalogue say different counts
	AskHolds       = "holds_unknown"        // nobody knows how many pieces a pack holds
	AskOrder       = "order_unknown"        // no order of that number is on record
	AskCancelled   = "order_cancelled"      // the order was cancelled
	AskShort       = "short"                // fewer than the delivery note says
)

// The answers.
const (
	Accept       = "accept"     // taken in where it was put
	IntoHold     = "quarantine" // taken in, and put into quarantine
	Refuse       = "refuse"     // not taken in: it goes back at once
	Confirm      = "confirm"    // it is as it was given
	AwaitRest    = "await"      // the rest is to come
	CloseRest    = "close"      // the rest will not come
	GiveHolds    = "holds"      // say how many pieces a pack holds
	LeaveOut     = "leave_out"  // send the delivery without the line
	dispositions = "accept quarantine refuse"
)

// disposition reports whether a question is about what becomes of the pieces.
func disposition(code string) bool {
	switch code {
	case AskDamaged, AskWrongProduct, AskOver, AskExpired, AskShortDated, AskHeld, AskUnknown:
		return true
	}
	return false
}

// asked gathers the questions about one line.
type asked struct {
	line      *DeliveryLine
	questions []Question
	answers   []Answered
}

// ask adds a question, unless it was answered.
func (a *asked) ask(code, format string, args ...any) {
	q := Question{Code: code, Message: fmt.Sprintf(format, args...)}
	l := a.line
	confirmed := slices.Contains(l.Confirm, code)
	said := ""
	switch {
	case disposition(code):
		q.Answers = strings.Fields(dispositions)
		if l.Answer == IntoHold || l.Answer == Refuse || l.Answer == Accept && confirmed {
			said = l.Answer
		}
	case code == AskShort:
		q.Answers = []string{AwaitRest, CloseRest}
		said = l.Rest
	case code == AskHolds:
		q.Answers = []string{GiveHolds, LeaveOut}
	default:
		q.Answers = []string{Confirm, LeaveOut}
		if confirmed {
			said = Confirm
		}
	}
	if said == "" {
		a.questions = append(a.questions, q)
		return
	}
	a.answers = append(a.answers, Answered{Question: code, Answer: said, Why: l.Why})
}

// An OpenQuestions says that a delivery was not recorded because something has
// to be answered first.
type OpenQuestions struct{ Checked *CheckedDelivery }

// Error implements the error interface.
func (o *OpenQuestions) Error() string {
	var codes []string
	for _, q := range o.Checked.Questions {
		codes = append(codes, q.Code)
	}
	for i, l := range o.Checked.Lines {
		for _, q := range l.Questions {
			codes = append(codes, fmt.Sprintf("line %d: %s", i+1, q.Code))
		}
	}
	return "questions are open: " + strings.Join(codes, ", ")
}
