package web

import "slices"

// A setupPage is one treatment at setup and during treatment.
type setupPage struct {
	Frame
	URL                       string
	Patient, Number           string
	Station, Machine, Started string
	// State is "open", "closed" or "struck out".
	State, StateText string
	// NotDone is set for one that was closed and did not take place; Closed
	// puts a closing right.
	NotDone bool
	Closed  *closedForm
	// Beside are other open treatments at the same station or machine.
	Beside []besideRow
	Rx     []rxFact
	// Told is what was just recorded; Ask is what has to be answered before
	// a scan can be recorded; Problem is why a form was not taken.
	Told *told
	Ask  *ask
	// AskOther is set when the pack's other code would answer the question.
	AskOther bool
	Problem  *trouble
	// Read is the text that could not be taken, as it was read.
	Read string
	// Left is an earlier scan whose question is still open, in words.
	Left string
	// LeftURL is where to go if the scan asked about is dropped: to the
	// question before it, if there is one.
	LeftURL string
	// Replacing is what the next scan takes over from, in words.
	Replacing string
	Waiting   []stoppedRow
	// Missing are the names of what is missing, Said those of what somebody
	// gave a reason for.
	Missing []string
	Said    []string
	There   int
	All     int
	Needs   []needRow
	Further []useRow
	Struck  []useRow
	Aside   []asideRow
	// MayWrite is set for those who record.
	MayWrite   bool
	Products   []optionGroup
	Categories []option
	Earlier    []field // codes of a scan that is not finished
	Typed      draft   // of the typed entry, when it was not taken
	Close      closeForm
	Opened     uint64 // the entry that opened the treatment
	MayStrike  bool   // it has no uses, so that it can be struck out itself
	CausesUsed, CausesWithout, CausesReplace, ReasonsUsed,
	ReasonsNotDone []string
	// Seen is what may be wrong with a product.
	Seen []option
}

// An rxFact is one figure of the prescription; Main ones are large.
type rxFact struct {
	Label, Value, Unit string
	Main               bool
}

// told is what was just recorded, in big type.
type told struct {
	// Sign is "ok", "stop", "caution" or "info".
	Sign     string
	Lead     string // "Taken as dialyzer"
	Product  string
	Lot      string
	NoLot    bool
	Rest     string // expiry, pieces, how known
	Findings []finding
	Next     string // what is missing still
	// Undo is the entry that can be struck out, 0 for none.
	Undo     uint64
	UndoText string
	// Instead is the use that a second of its kind may have taken over from,
	// 0 if there is none.
	Instead    uint64
	InsteadLot string
	// Notes are entries by which somebody said that a pack of this kind was
	// used and not recorded: this may be it.
	Notes []absenceRow
	// Assign are the categories that an unknown product could be.
	Assign []option
	// Again reads the entry again under a category.
	AgainFields []field
	// More leads to where more can be said; Known is how many problems of the
	// lot were recorded lately.
	More, Known *lotLink
}

// An ask is a question about a scan that is not recorded yet.
type ask struct {
	// Kind is "needs_lot", "needs_product", "needs_choice" or "needs_cause".
	Kind string
	// Two is set when one line may hold the codes of two packs.
	Two      bool
	Product  string // in words, as far as known
	Number   string // GTIN
	Lot      string
	Expires  string
	Choices  []choice
	More     []choice // the less likely of them
	Fields   []field  // the draft
	Replaces string   // what it is to take over from, in words
}

// A choice is one way of reading a code.
type choice struct {
	Number                             int
	Product, GTIN, Lot, Serial, Expiry string
}

// A stoppedRow is a scan that waits for an answer.
type stoppedRow struct {
	Entry    uint64
	Product  string
	Kind     string
	Lot      string
	Findings []finding
	How      string // "Scanned", "Typed"
	When, By string
	// Same is set where this very piece is recorded already: it may have been
	// scanned twice.
	Same bool
	// New is set for the one that was just scanned.
	New bool
}

// A needRow is something that the treatment requires.
type needRow struct {
	Category, Title string
	// Product is the one prescribed or usual, with its composition.
	Product    string
	Prescribed bool
	// State is "there", "stop", "missing", "part", "said" or "without".
	State, Sign, Word string
	Count             string // "1 of 2"
	Cause             string
	Uses              []useRow
	Absences          []absenceRow
	Open              bool // something is missing
	// Supplies are the batches that the station is fed from, with what there
	// is to notice; Kits are those in use that hold it.
	Supplies []supplyRow
	Findings []finding
	Kits     []kitRow
}

// A supplyRow is a batch in the tank that feeds the station.
type supplyRow struct{ From, Batch, Product, UseBy string }

type kitRow struct{ Product, Lot string }

// A useRow is a lot that was used.
type useRow struct {
	Entry           uint64
	Title           string // of the category, where it stands alone
	Product         string
	Lot             string
	Serial          string
	Expires         string
	Pieces          int64
	How, By, From   string
	Until           string
	Cause           string
	Reason          string
	Notes           []note
	Replaced        bool
	StruckBy        uint64
	StruckWhy       string
	StruckAt        string
	StruckWho       string
	Container       string // that it was drawn from
	CanReplace      bool
	ReplaceCategory string
	// Known is how many problems of the lot were recorded lately.
	Known *lotLink
}

// A note is the title of a finding that a use was recorded with.
type note struct{ Sign, Title string }

// An asideRow is a stopped scan that does not count as used. Twice is set for a
// piece that was scanned twice, and is in use by the first scan.
type asideRow struct {
	Product, Lot, Why, By, When string
	Twice                       bool
}

// An absenceRow is something that somebody said is not recorded.
type absenceRow struct {
	Entry    uint64
	Text     string
	By, When string
}

// A closeForm ends the treatment.
type closeForm struct {
	SinceStart int64
	Planned    int64
	Missing    string
	Waiting    string // stopped scans without an answer
	Prepared   string // what becomes of what is recorded, if it did not take place
}

// An optionGroup is options under a title.
type optionGroup struct {
	Title   string
	Options []option
}

// A wrongBox is what a problem is reported of, beside the page that its forms
// belong to: a use, or 0 for a category that is chosen.
type wrongBox struct {
	Page *setupPage
	Use  uint64
}

// Wrong returns a use with its page.
func (p *setupPage) Wrong(use uint64) wrongBox { return wrongBox{p, use} }

// A useBox is a use beside the page that its forms belong to.
type useBox struct {
	Page *setupPage
	Use  useRow
}

// ReasonTwice is the answer for a piece that was scanned twice.
func (*setupPage) ReasonTwice() string { return reasonTwice }

// ScannedTwice reports whether a scan was of a piece that is in use already.
func (p *setupPage) ScannedTwice() bool {
	return slices.ContainsFunc(p.Aside, func(a asideRow) bool { return a.Twice })
}

// Box returns a use with its page.
func (p *setupPage) Box(u useRow) useBox { return useBox{p, u} }

// A stopBox is a stopped scan beside the page that its forms belong to.
type stopBox struct {
	Page *setupPage
	Row  stoppedRow
}

// Stop returns a stopped scan with its page.
func (p *setupPage) Stop(s stoppedRow) stopBox { return stopBox{p, s} }
