package v1

import (
	"net/http"
	"net/url"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/trace"
)

type locationPage struct {
	Locations []location `json:"locations"`
	Next      string     `json:"next,omitempty"`
}

type stationPage struct {
	Stations []station `json:"stations"`
	Next     string    `json:"next,omitempty"`
}

type machinePage struct {
	Machines []machine `json:"machines"`
	Next     string    `json:"next,omitempty"`
}

type station struct {
	ID       string `json:"id"`
	Name     string `json:"name"`
	Location string `json:"location"`
	Machine  string `json:"machine,omitempty"`
}

type machine struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

func stationOf(s trace.Station) station {
	return station{string(s.ID), s.Name, string(s.Location), string(s.Machine)}
}

func machineOf(m trace.Machine) machine { return machine{string(m.ID), m.Name} }

// listOf reads a list that is kept by id and cuts a page out of it.
func listOf[D, W any](a *API, c *gin.Context, read func(inventory.Reader) ([]D, error), wire func(D) W, id func(*W) string) (page []W, next string, err error) {
	var q url.Values
	if q, err = query(c, "limit", "after"); err != nil {
		return nil, "", err
	}
	var all []W
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		all = all[:0]
		ds, err := read(r)
		for _, d := range ds {
			all = append(all, wire(d))
		}
		return err
	})
	if err != nil {
		return nil, "", err
	}
	return pageOf(q, all, id)
}

// knowsPatients reports whether whoever asks may know patients: those who treat
// them or must tell about them.
func knowsPatients(c *gin.Context) bool {
	id, ok := auth.FromContext(c.Request.Context())
	return ok && (id.Role == account.Nurse || id.Role == account.Quality)
}

// listLocations answers GET /v1/locations. Whose store a location is, is told
// to those who may know patients.
func (a *API) listLocations(c *gin.Context) error {
	known := knowsPatients(c)
	wire := func(l inventory.Location) location {
		if !known {
			l.Patient = ""
		}
		return locationOf(l)
	}
	page, next, err := listOf(a, c, inventory.Locations, wire, func(l *location) string { return l.ID })
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, locationPage{page, next})
}

// listStations answers GET /v1/stations.
func (a *API) listStations(c *gin.Context) error {
	page, next, err := listOf(a, c, trace.Stations, stationOf, func(s *station) string { return s.ID })
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, stationPage{page, next})
}

// listMachines answers GET /v1/machines.
func (a *API) listMachines(c *gin.Context) error {
	page, next, err := listOf(a, c, trace.Machines, machineOf, func(m *machine) string { return m.ID })
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, machinePage{page, next})
}
