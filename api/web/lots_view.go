package web

import "lotbook/trace"

// A lotsPage asks about a lot and answers who received it.
type lotsPage struct {
	Frame
	Product, Lot string
	Products     []option
	Problem      *trouble
	Answer       *lotAnswer
}

// A lotAnswer is what is known of a lot.
type lotAnswer struct {
	Name, Product, Kind, Lot, Expires string
	InCatalogue                       bool
	// Verdict is "not on record", "none" or "some".
	Verdict    string
	Lead, Rest string
	Hold       *holdRow
	Similar    []lotLink
	Problems   *lotLink // how many were recorded with it
	From, To   string   // when the lot may have been in the unit
	Grades     []gradeRow
	Gaps       string
	Excluded   []string
	Limits     []string // what the answer can't tell
	Rows       []exposureRow
	Range      string // "1 to 50 of 312"
	PrevURL    string
	NextURL    string
	LeftOutURL string
	Record     []recordRow
	Counted    string
	Machines   []machineRow
	Stations   []machineRow
	Units      []unitRow // other units that had some, or gave some
	Left       []leftRow
	LeftTotal  int64
	Lent       []leftRow   // what other units have
	Holders    []holderRow // kits and batches that hold it, or may
	Homes      []homeRow   // home patients whose stores have or had some
	Mass       massSides
	Outside    int64
	Counts     []countRow
	Refused    []string // at delivery
	StruckOut  []exposureRow
	Workbook   string
	AsOf       string
	Hash       string
	AskedAt    string
}

type holdRow struct{ Reason, Notice, By, At string }

type lotLink struct{ Title, URL string }

// A gradeRow is one grade with its figures.
type gradeRow struct {
	trace.GradeCount
	Class string
}

type exposureRow struct {
	Grade, Class, Patient, Number, Treatment, URL, Start, Machine, Station string

	Pieces, How, By, From, Until, Serial, Why, Evidence string
	Entry                                               uint64
}

type machineRow struct {
	Machine, Grade, Class, First, Last string
	Treatments                         int
}

// A recordRow is how completely a kind was recorded, in all and by week.
type recordRow struct {
	Kind  string
	Kept  bool
	Fed   int
	Total trace.OnRecord
	Weeks []weekRow
}

type weekRow struct {
	Week string
	trace.OnRecord
}

type unitRow struct {
	Unit, First, Last, Via string
	Lent, Taken            int64
}

type leftRow struct {
	Place, Lot string
	Pieces     int64
	Held       bool
	Home       bool
}

type holderRow struct{ Kind, Name, Lot, URL, Grade, Class, Why string }

type homeRow struct {
	Grade, Class, Patient, Number, Place, First, Last, Why string

	Supplied, Returned, Used int64
}

// massSides are the two sides of a mass balance.
type massSides struct {
	Terms   []massTerm
	In, Out int64
}

// A massTerm is one side's part of the mass balance.
type massTerm struct {
	Title  string
	Pieces int64
	In     bool
	Note   string
}

type countRow struct {
	At, Place, By, Cause string
	Book, Found          int64
	Missing              string
}
