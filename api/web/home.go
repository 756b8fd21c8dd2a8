package web

import (
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/trace"
)

type homePage struct {
	Frame
	Shift string
	Tasks []task
	// Settings is set for who sees to users and settings, which have no pages.
	Settings bool
}

// A task is something that the role can do now.
type task struct {
	Title, Text, URL, Do string
	// Figure is what there is of it now, with its word; empty for none.
	Figure, Of string
}

// order is that of a quality officer, who comes with a notice in hand.
func order(t task) int {
	return slices.Index([]string{"/notices", "/lots", "/problems", "/reconciliation", "/setup"}, t.URL)
}

func (p *Pages) home(c *gin.Context) error {
	page := &homePage{Frame: p.frame(c, "What to do now", "/")}
	err := p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err != nil {
			return err
		}
		page.Unit = k.unit.Name
		shift, err := k.unit.ShiftOf(p.Book.Now())
		if err != nil {
			return err
		}
		page.Shift = string(shift.Date) + " · " + k.shiftName(shift.Number)
		open, waiting := 0, 0
		if err := trace.ScanOpen(r, func(t *trace.Treatment) error {
			open++
			waiting += len(t.Stopped)
			return nil
		}); err != nil {
			return err
		}
		slots, err := trace.Slots(r, shift)
		if err != nil {
			return err
		}
		if p.may(c, "GET /setup") {
			t := task{
				Title: "Setup", URL: "/setup", Do: "Open setup", Figure: itoa(open), Of: "treatments open",
				Text: plural(len(slots), "treatment is", "treatments are") + " planned for this shift. Scan each pack before priming; what is missing stays in sight.",
			}
			if waiting > 0 {
				t.Text = plural(waiting, "stopped scan waits", "stopped scans wait") + " for an answer. " + t.Text
			}
			page.Tasks = append(page.Tasks, t)
		}
		if p.may(c, "GET /lots") {
			page.Tasks = append(page.Tasks, task{
				Title: "Who received a lot", URL: "/lots", Do: "Ask about a lot",
				Text: "Patients, treatments and machines with a grade of certainty, what is left and where, and every piece accounted for.",
			})
		}
		if p.may(c, "GET /notices") {
			t, err := p.noticesTask(r)
			if err != nil {
				return err
			}
			page.Tasks = append(page.Tasks, t)
		}
		if p.may(c, "GET /problems") {
			t, err := p.problemsTask(r)
			if err != nil {
				return err
			}
			page.Tasks = append(page.Tasks, t)
		}
		if p.may(c, "GET /reconciliation") {
			page.Tasks = append(page.Tasks, task{
				Title: "Reconcile a shift", URL: "/reconciliation", Do: "Look at the shift",
				Text: "Counted, recorded and expected side by side, with the differences and their causes.",
			})
		}
		page.Settings = !p.may(c, "GET /reconciliation")
		if id, ok := auth.FromContext(c.Request.Context()); ok && id.Role == account.Quality {
			slices.SortStableFunc(page.Tasks, func(a, b task) int { return order(a) - order(b) })
		}
		return nil
	})
	if err != nil {
		return err
	}
	return show(c, http.StatusOK, p.views.home, page)
}
