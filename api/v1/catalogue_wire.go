package v1

import (
	"strings"

	"lotbook/inventory"
)

// A product as it is sent and received.
type product struct {
	ID       string `json:"id"`
	Name     string `json:"name"`
	Category string `json:"category"`
	Maker    string `json:"maker,omitempty"`
	Packs    []pack `json:"packs,omitempty"`
	Facts    *facts `json:"facts,omitempty"`
	// Components make it a kit.
	Components []component `json:"components,omitempty"`
}

type component struct {
	Product    inventory.ProductID `json:"product"`
	Pieces     int64               `json:"pieces"`
	NotCounted bool                `json:"not_counted,omitempty"`
}

type pack struct {
	Level string `json:"level"`
	GTIN  string `json:"gtin,omitempty"`
	Code  string `json:"code,omitempty"`
	Holds int64  `json:"holds"`
}

type facts struct {
	Potassium      int64               `json:"potassium_umol_per_l,omitempty"`
	Calcium        int64               `json:"calcium_umol_per_l,omitempty"`
	IonsKnown      bool                `json:"ions_known,omitempty"`
	MixSystem      inventory.MixSystem `json:"mix_system,omitempty"`
	FillVolume     int64               `json:"fill_volume_ml,omitempty"`
	UnitsPerML     int64               `json:"units_per_ml,omitempty"`
	Shared         bool                `json:"shared,omitempty"`
	ShortDatedDays int                 `json:"short_dated_days,omitempty"`
}

func productOf(p *inventory.Product) product {
	out := product{ID: string(p.ID), Name: p.Name, Category: string(p.Category), Maker: p.Maker}
	for _, k := range p.Packs {
		out.Packs = append(out.Packs, pack(k))
	}
	if p.Facts != (inventory.Facts{}) {
		f := facts(p.Facts)
		out.Facts = &f
	}
	for _, x := range p.Components {
		out.Components = append(out.Components, component(x))
	}
	return out
}

func (p *product) domain() inventory.Product {
	out := inventory.Product{ID: inventory.ProductID(p.ID), Name: p.Name, Category: inventory.Category(p.Category), Maker: p.Maker}
	for _, k := range p.Packs {
		k.GTIN = gtin14(k.GTIN)
		out.Packs = append(out.Packs, inventory.Pack(k))
	}
	if p.Facts != nil {
		out.Facts = inventory.Facts(*p.Facts)
	}
	for _, x := range p.Components {
		out.Components = append(out.Components, inventory.Component(x))
	}
	return out
}

// gtin14 pads a GTIN of 8, 12 or 13 digits to 14 (GS1 General Specifications
// 3.3.2); anything else is left for the domain to refuse.
func gtin14(s string) string {
	switch len(s) {
	case 8, 12, 13:
		return strings.Repeat("0", 14-len(s)) + s
	}
	return s
}

type location struct {
	ID      string `json:"id"`
	Name    string `json:"name"`
	Kind    string `json:"kind"`
	Patient string `json:"patient,omitempty"`
}

func locationOf(l inventory.Location) location {
	return location{string(l.ID), l.Name, string(l.Type), l.Patient}
}

// unit is the unit's settings.
type unit struct {
	Name           string            `json:"name"`
	TimeZone       string            `json:"time_zone"`
	Shifts         []shiftHours      `json:"shifts"`
	ShortDatedDays int               `json:"short_dated_days"`
	Rules          rules             `json:"rules"`
	Defaults       map[string]string `json:"defaults,omitempty"`
}

type shiftHours struct {
	Number int    `json:"number"`
	Name   string `json:"name"`
	Starts string `json:"starts"`
}

type rules struct {
	Needs            []need `json:"needs"`
	PrimeMinutes     int64  `json:"prime_minutes"`
	PrimeFlow        int64  `json:"prime_flow_ml_per_min"`
	Residual         int64  `json:"residual_ml"`
	BicarbonateParts int64  `json:"bicarbonate_parts_thousandths,omitempty"`
}

type need struct {
	Category     inventory.Category `json:"category"`
	By           inventory.NeedBy   `json:"by"`
	Fistula      int64              `json:"fistula"`
	Graft        int64              `json:"graft"`
	Catheter     int64              `json:"catheter"`
	SingleNeedle int64              `json:"single_needle,omitempty"`
	Scan         bool               `json:"scan"`
}

func unitOf(u *inventory.Unit) unit {
	out := unit{
		Name: u.Name, TimeZone: u.TimeZone, Shifts: []shiftHours{}, ShortDatedDays: u.ShortDatedDays,
		Rules: rules{
			Needs: []need{}, PrimeMinutes: u.Rules.PrimeMinutes, PrimeFlow: u.Rules.PrimeFlow,
			Residual: u.Rules.Residual, BicarbonateParts: u.Rules.BicarbonateParts,
		},
	}
	for _, s := range u.Shifts {
		out.Shifts = append(out.Shifts, shiftHours(s))
	}
	for _, n := range u.Rules.Needs {
		out.Rules.Needs = append(out.Rules.Needs, need(n))
	}
	for c, p := range u.Defaults {
		if out.Defaults == nil {
			out.Defaults = map[string]string{}
		}
		out.Defaults[string(c)] = string(p)
	}
	return out
}

func (u *unit) domain() inventory.Unit {
	out := inventory.Unit{
		Name: u.Name, TimeZone: u.TimeZone, ShortDatedDays: u.ShortDatedDays,
		Rules: inventory.Rules{
			PrimeMinutes: u.Rules.PrimeMinutes, PrimeFlow: u.Rules.PrimeFlow,
			Residual: u.Rules.Residual, BicarbonateParts: u.Rules.BicarbonateParts,
		},
	}
	for _, s := range u.Shifts {
		out.Shifts = append(out.Shifts, inventory.ShiftHours(s))
	}
	for _, n := range u.Rules.Needs {
		out.Rules.Needs = append(out.Rules.Needs, inventory.Need(n))
	}
	out.Defaults = categoriesTo(u.Defaults)
	return out
}

func categoriesTo(m map[string]string) map[inventory.Category]inventory.ProductID {
	if len(m) == 0 {
		return nil
	}
	out := make(map[inventory.Category]inventory.ProductID, len(m))
	for c, p := range m {
		out[inventory.Category(c)] = inventory.ProductID(p)
	}
	return out
}

// category is a category and what it is called.
type category struct {
	ID    string `json:"id"`
	Title string `json:"title"`
}

func categoryOf(c inventory.Category) category { return category{string(c), c.Title()} }
