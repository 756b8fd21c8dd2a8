package auth

// The one table of who may do what. A route is a method and a pattern as
// registered at the router; what is not here nobody may do. HEAD goes with GET.
//
// How the roles were drawn:
//
//   - Patients (names, treatments, who received a lot) are for those who treat
//     them or must tell about them: nurses and quality officers. Stock clerks
//     and administrators work without. An administrator who needs more must
//     change a role, which the journal shows.
//   - Whatever happened can be written down by whoever is there when it
//     happens. Nurses fetch, waste, count at their station, and set right what
//     they entered; anybody who handles packs may put a lot on hold, which is
//     the safe direction, and only quality officers release one.
//   - Entries of the journal are read whole, patients included: quality only.
//   - A backup holds everything: it is taken at the machine by whoever owns the
//     folder (lotbook backup), and by nobody over the network.
//   - Whose token it is decides about seeing and revoking it
//     (Identity.MayManage), so these rows are open to all who are signed in.
//
// All of this is common practice, no source; a unit's own policy goes first.
func permissions() []permission {
	const (
		patients = nurse | quality // may know patients by name
		floor    = nurse | stock   // handle packs
		handlers = floor | quality // and those who answer for them
	)
	return []permission{
		// Public: nothing of the unit's records.
		{"GET /health", Public},
		{"GET /assets/*path", Public},
		{"GET /sign-in", Public},
		{"POST /sign-in", Public},

		// Pages.
		{"POST /sign-out", everyone},
		{"GET /", everyone},
		{"GET /setup", patients},
		{"POST /setup", nurse},
		{"GET /setup/:id", patients},
		{"POST /setup/:id", nurse},
		{"GET /lots", patients},
		{"GET /lots.xlsx", quality},
		{"GET /notices", everyone},
		{"GET /notices/:id", patients},
		{"POST /notices/:id", quality},
		{"GET /lots/evidence", patients},
		{"GET /lots/left-out", patients},
		{"GET /problems", patients},
		{"POST /problems", patients},
		{"GET /problems.xlsx", quality},
		{"GET /problems/:id", patients},
		{"POST /problems/:id", patients},
		{"GET /problems/:id/pictures/:seq", patients},
		{"GET /problems/:id/draft", patients},
		{"GET /problems/:id/draft.xlsx", quality},
		{"GET /scanners", everyone},
		{"POST /scanners", floor | administrator},
		{"GET /scanners/sheet.svg", everyone},
		{"GET /reconciliation", handlers},
		{"GET /reconciliation.xlsx", handlers},

		// Reading codes touches no records.
		{"POST /v1/read", everyone},

		// The catalogue and the places.
		{"GET /v1/products", everyone},
		{"GET /v1/products/:id", everyone},
		{"POST /v1/products", stock | quality},
		{"GET /v1/locations", everyone},
		{"POST /v1/locations", stock | administrator},
		{"GET /v1/stations", everyone},
		{"POST /v1/stations", administrator},
		{"GET /v1/machines", everyone},
		{"POST /v1/machines", administrator},
		{"GET /v1/scanners", everyone},
		{"POST /v1/scanners", floor | administrator},
		{"GET /v1/unit", everyone},
		{"POST /v1/unit", administrator},

		// Stock.
		{"GET /v1/balances", everyone},
		{"GET /v1/next-lots", everyone},
		{"GET /v1/next-lots.xlsx", everyone},
		{"GET /v1/ordering", everyone},
		{"POST /v1/ordering", stock | administrator},
		{"GET /v1/order-proposals", everyone},
		{"GET /v1/order-proposals.xlsx", everyone},
		{"GET /v1/lots", everyone},
		{"POST /v1/receipts", stock},
		{"POST /v1/deliveries", stock},
		{"GET /v1/orders", everyone},
		{"GET /v1/orders/:id", everyone},
		{"POST /v1/orders", stock},
		{"POST /v1/orders/:id/changes", stock},
		{"POST /v1/orders/:id/cancellations", stock},
		{"POST /v1/moves", floor},
		{"POST /v1/uses", nurse},
		{"POST /v1/wastes", floor},
		{"POST /v1/returns", stock | quality},
		{"POST /v1/destructions", stock | quality},
		{"POST /v1/transfers", stock},
		{"POST /v1/counts", floor},
		{"GET /v1/kit-contents", everyone},
		{"POST /v1/kit-contents", stock | quality},
		{"GET /v1/tanks", everyone},
		{"POST /v1/tanks", stock | administrator},
		{"GET /v1/tanks/:id", everyone},
		{"POST /v1/tanks/:id/feeds", floor},
		{"POST /v1/tanks/:id/feed-ends", floor},
		{"POST /v1/tanks/:id/emptyings", floor},
		{"GET /v1/loops", everyone},
		{"POST /v1/loops", stock | administrator},
		{"GET /v1/batches", everyone},
		{"POST /v1/batches", floor},
		{"GET /v1/batches/:id", everyone},
		{"POST /v1/batches/:id/inputs", floor},
		{"POST /v1/batches/:id/readings", floor},
		{"POST /v1/batches/:id/endings", floor},
		{"GET /v1/containers", everyone},
		{"POST /v1/containers", floor},
		{"POST /v1/containers/:id/closures", floor},
		{"POST /v1/containers/:id/moves", floor},
		// Whoever counts isn't shown what the book has; quality may look.
		{"GET /v1/count-sheets", handlers},
		{"POST /v1/count-sheets", floor},
		{"GET /v1/count-sheets/:id", handlers},
		{"GET /v1/count-sheets/:id/expected", quality},
		{"POST /v1/count-sheets/:id/lines", floor},
		{"POST /v1/count-sheets/:id/finishes", floor},
		{"POST /v1/count-sheets/:id/drops", floor},
		{"GET /v1/counting", everyone},
		{"POST /v1/counting", administrator},
		{"GET /v1/count-plan", handlers},
		{"POST /v1/holds", handlers},
		{"POST /v1/releases", quality},
		{"POST /v1/corrections", handlers},
		{"GET /v1/reconciliations", handlers},
		{"GET /v1/reconciliations.xlsx", handlers},
		{"GET /v1/trends", handlers},
		{"GET /v1/trends.xlsx", handlers},

		// Patients and treatments.
		{"GET /v1/patients", patients},
		{"POST /v1/patients", nurse},
		{"POST /v1/patients/:id/prescriptions", nurse},
		{"GET /v1/treatments", patients},
		{"POST /v1/treatments", nurse},
		{"GET /v1/treatments/:id", patients},
		{"GET /v1/treatments/:id/expected", patients},
		{"POST /v1/treatments/:id/scans", nurse},
		{"POST /v1/treatments/:id/answers", nurse},
		{"POST /v1/treatments/:id/absences", nurse},
		{"POST /v1/treatments/:id/closures", nurse},
		{"GET /v1/exposures", patients},
		{"GET /v1/exposures.xlsx", quality},
		{"GET /v1/exposures/left-out", patients},
		{"GET /v1/exposures/evidence", patients},
		{"POST /v1/comparisons", quality},
		{"POST /v1/comparisons.xlsx", quality},

		// Problems with products. Whoever handles packs may say that something
		// was wrong with one; they are read by those who may know in whose
		// treatment. A draft leaves the unit, so its workbook is for quality.
		{"GET /v1/problems", patients},
		{"GET /v1/problems.xlsx", quality},
		{"POST /v1/problems", handlers},
		{"GET /v1/problems/:id", patients},
		{"POST /v1/problems/:id/follow-ups", handlers},
		{"POST /v1/problems/:id/pictures", handlers},
		{"GET /v1/problems/:id/pictures/:seq", patients},
		{"GET /v1/problems/:id/draft", patients},
		{"GET /v1/problems/:id/draft.xlsx", quality},
		{"GET /v1/problem-settings", everyone},
		{"POST /v1/problem-settings", quality | administrator},

		// Field notices. What one says of lots is for all who handle packs;
		// who met them is for those who may know patients. What goes to the
		// issuer has no patients.
		{"GET /v1/notices", everyone},
		{"POST /v1/notices", quality},
		{"GET /v1/notices/:id", everyone},
		{"POST /v1/notices/:id/versions", quality},
		{"GET /v1/notices/:id/lots", everyone},
		{"POST /v1/notices/:id/decisions", quality},
		{"POST /v1/notices/:id/confirmations", quality},
		{"POST /v1/notices/:id/releases", quality},
		{"GET /v1/notices/:id/answer", patients},
		{"GET /v1/notices/:id/answer.xlsx", quality},
		{"GET /v1/notices/:id/difference", patients},
		{"POST /v1/notices/:id/replies", quality},
		{"GET /v1/notices/:id/replies/:number", patients},
		{"GET /v1/notices/:id/replies/:number/reply.xlsx", quality},
		{"GET /v1/notices/:id/replies/:number/letter", quality},
		{"GET /v1/notices/:id/replies/:number/unit.xlsx", quality},
		// Whoever does something about one writes it down;
		// who decides, replies and closes is quality.
		{"GET /v1/notices/:id/progress", patients},
		{"POST /v1/notices/:id/assignments", quality},
		{"POST /v1/notices/:id/actions", handlers},
		{"POST /v1/notices/:id/reviews", patients},
		{"POST /v1/notices/:id/machines", handlers},
		{"POST /v1/notices/:id/tellings", handlers},
		{"POST /v1/notices/:id/effectiveness-checks", quality},
		{"POST /v1/notices/:id/closings", quality},
		{"POST /v1/notices/:id/reopenings", quality},
		{"GET /v1/overdue", everyone},
		{"GET /v1/drills", handlers},
		{"POST /v1/drills", quality},
		{"POST /v1/drills/:id/endings", quality},

		// Lists to take away, whole: those with patients are for quality only.
		{"GET /v1/products.csv", everyone},
		{"GET /v1/products.xlsx", everyone},
		{"GET /v1/receipts.csv", handlers},
		{"GET /v1/receipts.xlsx", handlers},
		{"GET /v1/counts.csv", handlers},
		{"GET /v1/counts.xlsx", handlers},
		{"GET /v1/ordering.csv", handlers},
		{"GET /v1/ordering.xlsx", handlers},
		{"GET /v1/patients.csv", quality},
		{"GET /v1/patients.xlsx", quality},
		{"GET /v1/prescriptions.csv", quality},
		{"GET /v1/prescriptions.xlsx", quality},
		{"GET /v1/schedule.csv", quality},
		{"GET /v1/schedule.xlsx", quality},

		// The journal.
		{"GET /v1/head", everyone},
		{"GET /v1/entries/:seq", quality},

		// Users and tokens.
		{"GET /v1/users", quality | administrator},
		{"POST /v1/users", administrator},
		{"POST /v1/users/:id/changes", administrator},
		{"GET /v1/tokens", everyone},
		{"POST /v1/tokens", everyone},
		{"POST /v1/tokens/:id/revocations", everyone},
	}
}
