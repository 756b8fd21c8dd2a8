package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

type locationRequest struct {
	happened
	location
}

type locationWritten struct {
	written
	Location location `json:"location"`
}

// createLocation answers POST /v1/locations.
func (a *API) createLocation(c *gin.Context) error {
	var req locationRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.SetLocation(c.Request.Context(), call, inventory.Location{
		ID: inventory.LocationID(req.ID), Name: req.Name, Type: inventory.PlaceKind(req.Kind), Patient: req.Patient,
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*inventory.LocationSet](evs)
		if err != nil {
			return nil, err
		}
		return locationWritten{w, locationOf(ev.Location)}, nil
	})
}

type stationRequest struct {
	happened
	station
}

type stationWritten struct {
	written
	Station station `json:"station"`
}

// createStation answers POST /v1/stations.
func (a *API) createStation(c *gin.Context) error {
	var req stationRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.SetStation(c.Request.Context(), call, trace.Station{
		ID: trace.StationID(req.ID), Name: req.Name, Location: inventory.LocationID(req.Location), Machine: trace.MachineID(req.Machine),
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.StationSet](evs)
		if err != nil {
			return nil, err
		}
		return stationWritten{w, stationOf(ev.Station)}, nil
	})
}

type machineRequest struct {
	happened
	machine
}

type machineWritten struct {
	written
	Machine machine `json:"machine"`
}

// createMachine answers POST /v1/machines.
func (a *API) createMachine(c *gin.Context) error {
	var req machineRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.SetMachine(c.Request.Context(), call, trace.Machine{ID: trace.MachineID(req.ID), Name: req.Name})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.MachineSet](evs)
		if err != nil {
			return nil, err
		}
		return machineWritten{w, machineOf(ev.Machine)}, nil
	})
}
