package web

import (
	"net/http"
	"net/url"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// A noticesPage lists the field notices, the newest first. It names no patient.
type noticesPage struct {
	Frame
	Rows []noticeRow
}

// A noticeRow is a notice on the list.
type noticeRow struct {
	// URL is its page, for who may know patients.
	URL, Number, Reference, Issuer, Subject, Class, Received, Deadline, Stage string
	Versions, Replies                                                         int
	Due                                                                       []dueRow
	Overdue                                                                   int
}

type dueRow struct {
	What, To, Due string
	Late          bool
}

// stageWords say how far a notice is.
var stageWords = map[notice.Stage]string{
	notice.StageWritten: "written down, nothing held yet", notice.StageConfirmed: "scope confirmed, on hold", notice.StageReplied: "replied", notice.StageClosed: "closed",
}

func noticeURL(id notice.ID) string { return "/notices/" + url.PathEscape(string(id)) }

func (p *Pages) notices(c *gin.Context) error {
	page := &noticesPage{Frame: p.frame(c, "Field notices", "/notices")}
	page.caution()
	err := p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err != nil {
			return err
		}
		page.Unit = k.unit.Name
		list, err := notice.NewBook(p.Book).Standings(r)
		if err != nil {
			return err
		}
		today := inventory.DateOf(p.Book.Now(), k.zone)
		for i := range list {
			row := noticeRowOf(&list[i], today)
			if p.may(c, "GET /notices/:id") {
				row.URL = noticeURL(list[i].ID)
			}
			page.Rows = append(page.Rows, row)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return show(c, http.StatusOK, p.views.notices, page)
}

func noticeRowOf(s *notice.Standing, today inventory.Date) noticeRow {
	v := s.Latest()
	subject, class, deadline := s.Said(0)
	row := noticeRow{
		Number: string(s.ID), Reference: v.Reference, Issuer: v.Issuer, Subject: subject, Class: class, Received: string(v.Received), Deadline: string(deadline),
		Stage: stageWords[s.Stage()], Versions: len(s.Versions), Replies: len(s.Progress.Replied), Overdue: s.Overdue,
	}
	for _, d := range s.Dues {
		row.Due = append(row.Due, dueRow{d.What, d.To, string(d.Due), d.Due < today})
	}
	return row
}

// noticesTask says how many notices are open.
func (p *Pages) noticesTask(r inventory.Reader) (task, error) {
	list, err := notice.NewBook(p.Book).Standings(r)
	if err != nil {
		return task{}, err
	}
	open, late := 0, 0
	for i := range list {
		if list[i].Progress.Closed == nil {
			open++
		}
		late += list[i].Overdue
	}
	t := task{
		Title: "Field notices", URL: "/notices", Do: "Open the notices", Figure: itoa(open), Of: "open",
		Text: "Which lots a notice means here, who met them, where every piece is, and what was answered.",
	}
	if late > 0 {
		t.Text = plural(late, "thing is", "things are") + " overdue. " + t.Text
	}
	return t, nil
}
