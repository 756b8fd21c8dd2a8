package v1

import (
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory/account"
	"lotbook/scanner/wedge"
	"lotbook/trace"
	"lotbook/trace/intake"
)

// Deps are what the handlers work with.
type Deps struct {
	Book     *trace.Book
	Accounts *account.Accounts
	// TempDir is for a workbook's temporary files.
	TempDir string
	// Version of the program, for a workbook's properties.
	Version string
	// Scanner is what the unit's keyboard scanners do to text.
	Scanner wedge.Profile
	// May reports whether a role may use a route.
	May func(account.Role, string) bool
	// Fail answers a request with what went wrong.
	Fail func(*gin.Context, error)

	PicturePixels  int
	PictureTime    time.Duration
	PicturesAtOnce int
}

// An API has the handlers.
type API struct {
	Deps
	// pictures holds a token for each picture that may be read at the same
	// time.
	pictures chan struct{}
	seen     seenPictures
}

// New returns an API.
func New(d Deps) *API {
	return &API{Deps: d, pictures: make(chan struct{}, max(1, d.PicturesAtOnce))}
}

// A handler answers a request, or returns why it can't; it has written nothing
// then.
type handler func(*gin.Context) error

// Register adds the routes to a group at /v1.
func (a *API) Register(r gin.IRouter) {
	get := func(path string, h handler) { r.GET(path, a.answered(h)) }
	post := func(path string, h handler) { r.POST(path, a.answered(h)) }

	post("/read", a.read)

	get("/products", a.listProducts)
	get("/products/:id", a.getProduct)
	post("/products", a.createProducts)
	get("/locations", a.listLocations)
	post("/locations", a.createLocation)
	get("/stations", a.listStations)
	post("/stations", a.createStation)
	get("/machines", a.listMachines)
	post("/machines", a.createMachine)
	get("/scanners", a.listScanners)
	post("/scanners", a.createScanner)
	get("/unit", a.getUnit)
	post("/unit", a.createUnit)

	get("/ordering", a.getOrdering)
	post("/ordering", a.createOrdering)
	get("/order-proposals", a.getProposal)
	get("/order-proposals.xlsx", a.getProposalWorkbook)
	get("/next-lots", a.getNextLots)
	get("/next-lots.xlsx", a.getNextLotsWorkbook)

	get("/balances", a.listBalances)
	get("/lots", a.listLots)
	post("/receipts", a.createReceipt)
	post("/deliveries", a.createDelivery)
	get("/orders", a.listOrders)
	get("/orders/:id", a.getOrder)
	post("/orders", a.createOrder)
	post("/orders/:id/changes", a.createOrderChange)
	post("/orders/:id/cancellations", a.createOrderCancellation)
	post("/moves", a.createMove)
	post("/uses", a.createUse)
	post("/wastes", a.createWaste)
	post("/returns", a.createReturn)
	post("/destructions", a.createDestruction)
	post("/transfers", a.createTransfer)
	post("/counts", a.createCount)
	get("/kit-contents", a.listContents)
	post("/kit-contents", a.createKitContents)
	get("/tanks", a.listTanks)
	post("/tanks", a.createTank)
	get("/tanks/:id", a.getTank)
	post("/tanks/:id/feeds", a.createFeed)
	post("/tanks/:id/feed-ends", a.createFeedEnd)
	post("/tanks/:id/emptyings", a.createEmptying)
	get("/loops", a.listLoops)
	post("/loops", a.createLoop)
	get("/batches", a.listBatches)
	post("/batches", a.createBatch)
	get("/batches/:id", a.getBatch)
	post("/batches/:id/inputs", a.createInput)
	post("/batches/:id/readings", a.createReading)
	post("/batches/:id/endings", a.createEnding)
	get("/containers", a.listContainers)
	post("/containers", a.createContainer)
	post("/containers/:id/closures", a.createContainerEnd)
	post("/containers/:id/moves", a.createContainerMove)
	get("/count-sheets", a.listSheets)
	post("/count-sheets", a.createSheet)
	get("/count-sheets/:id", a.getSheet)
	get("/count-sheets/:id/expected", a.getSheetExpected)
	post("/count-sheets/:id/lines", a.createSheetLines)
	post("/count-sheets/:id/finishes", a.createSheetFinish)
	post("/count-sheets/:id/drops", a.createSheetDrop)
	get("/counting", a.getCounting)
	post("/counting", a.createCounting)
	get("/count-plan", a.getCountPlan)
	post("/holds", a.createHold)
	post("/releases", a.createRelease)
	post("/corrections", a.createCorrection)
	get("/reconciliations", a.getReconciliation)
	get("/reconciliations.xlsx", a.getReconciliationWorkbook)
	get("/trends", a.getTrend)
	get("/trends.xlsx", a.getTrendWorkbook)

	for _, f := range intake.Forms() {
		get("/"+f.Name+".csv", a.exportCSV(f.Name))
		get("/"+f.Name+".xlsx", a.exportWorkbook(f.Name))
	}

	get("/patients", a.listPatients)
	post("/patients", a.createPatient)
	post("/patients/:id/prescriptions", a.createPrescription)
	get("/treatments", a.listTreatments)
	post("/treatments", a.createTreatment)
	get("/treatments/:id", a.getTreatment)
	get("/treatments/:id/expected", a.getExpected)
	post("/treatments/:id/scans", a.createScan)
	post("/treatments/:id/answers", a.createAnswer)
	post("/treatments/:id/absences", a.createAbsence)
	post("/treatments/:id/closures", a.createClosure)
	get("/exposures", a.getExposures)
	get("/exposures.xlsx", a.getExposuresWorkbook)
	get("/exposures/left-out", a.listLeftOut)
	get("/exposures/evidence", a.getEvidence)
	post("/comparisons", a.askComparison)
	post("/comparisons.xlsx", a.askComparisonWorkbook)

	get("/problems", a.listProblems)
	get("/problems.xlsx", a.getProblemsWorkbook)
	post("/problems", a.createProblem)
	get("/problems/:id", a.getProblem)
	post("/problems/:id/follow-ups", a.createFollowUp)
	post("/problems/:id/pictures", a.createProblemPicture)
	get("/problems/:id/pictures/:seq", a.getProblemPicture)
	get("/problems/:id/draft", a.getProblemDraft)
	get("/problems/:id/draft.xlsx", a.getProblemDraftWorkbook)
	get("/problem-settings", a.getProblemSettings)
	post("/problem-settings", a.createProblemSettings)

	get("/notices", a.listNotices)
	post("/notices", a.createNotice)
	get("/notices/:id", a.getNotice)
	post("/notices/:id/versions", a.createNoticeVersion)
	get("/notices/:id/lots", a.getNoticeLots)
	post("/notices/:id/decisions", a.createNoticeDecision)
	post("/notices/:id/confirmations", a.createNoticeConfirmation)
	post("/notices/:id/releases", a.createNoticeRelease)
	get("/notices/:id/answer", a.getNoticeAnswer)
	get("/notices/:id/answer.xlsx", a.getNoticeWorkbook)
	get("/notices/:id/difference", a.getNoticeDifference)
	post("/notices/:id/replies", a.createNoticeReply)
	get("/notices/:id/replies/:number", a.getNoticeReply)
	get("/notices/:id/replies/:number/reply.xlsx", a.getReplyWorkbook)
	get("/notices/:id/replies/:number/unit.xlsx", a.getReplyUnitWorkbook)
	get("/notices/:id/replies/:number/letter", a.getReplyLetter)
	get("/notices/:id/progress", a.getNoticeProgress)
	post("/notices/:id/assignments", a.createAssignment)
	post("/notices/:id/actions", a.createActionDone)
	post("/notices/:id/reviews", a.createReview)
	post("/notices/:id/machines", a.createMachineHandled)
	post("/notices/:id/tellings", a.createTelling)
	post("/notices/:id/effectiveness-checks", a.createEffectiveness)
	post("/notices/:id/closings", a.createNoticeClosing)
	post("/notices/:id/reopenings", a.createReopening)
	get("/overdue", a.getOverdue)
	get("/drills", a.listDrills)
	post("/drills", a.createDrill)
	post("/drills/:id/endings", a.createDrillEnding)

	get("/head", a.getHead)
	get("/entries/:seq", a.getEntry)

	get("/users", a.listUsers)
	post("/users", a.createUser)
	post("/users/:id/changes", a.createUserChange)
	get("/tokens", a.listTokens)
	post("/tokens", a.createToken)
	post("/tokens/:id/revocations", a.createRevocation)
}

func (a *API) answered(h handler) gin.HandlerFunc {
	return func(c *gin.Context) {
		if err := h(c); err != nil {
			a.Fail(c, err)
		}
	}
}
