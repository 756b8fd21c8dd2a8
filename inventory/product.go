package inventory

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A ProductID names a product in a unit's catalogue: the unit's own short code
// or the maker's reference. A product that was scanned before anyone
// catalogued it has the provisional id "gtin:" and 14 digits.
type ProductID string

// provisional begins the id of a product known by its GTIN only.
const provisional = "gtin:"

// ProvisionalID returns the id that what is recorded under an uncatalogued GTIN
// is kept under. It goes to the product that has a pack of that GTIN once there
// is one.
func ProvisionalID(gtin string) ProductID { return ProductID(provisional + gtin) }

// ProvisionalGTIN returns the GTIN of a provisional id, and whether it is one.
func (id ProductID) ProvisionalGTIN() (string, bool) {
	return strings.CutPrefix(string(id), provisional)
}

// A Category says what a product is for. Rules of expected use and the list of
// what a treatment needs go by it.
type Category string

// The categories.
const (
	Dialyzer        Category = "dialyzer"
	BloodlineSet    Category = "bloodline_set"
	AcidConcentrate Category = "acid_concentrate"
	Bicarbonate     Category = "bicarbonate"
	Heparin         Category = "heparin"
	Saline          Category = "saline"
	FistulaNeedle   Category = "fistula_needle"
	CatheterCap     Category = "catheter_cap"
	FlushSyringe    Category = "flush_syringe"
	LockSolution    Category = "lock_solution"
	Syringe         Category = "syringe"
	AccessPack      Category = "access_pack"
	Disinfectant    Category = "disinfectant"
	TestStrip       Category = "test_strip"
	OtherCategory   Category = "other"
)

// categoryTitles are the words for people, in the order of a list.
var categoryTitles = []struct {
	Category Category
	Title    string
}{
	{Dialyzer, "Dialyzer"},
	{BloodlineSet, "Bloodline set"},
	{AcidConcentrate, "Acid concentrate"},
	{Bicarbonate, "Bicarbonate"},
	{Heparin, "Heparin"},
	{Saline, "Saline"},
	{FistulaNeedle, "Fistula needle"},
	{CatheterCap, "Catheter cap"},
	{FlushSyringe, "Flush syringe"},
	{LockSolution, "Lock solution"},
	{Syringe, "Syringe"},
	{AccessPack, "Access pack"},
	{Disinfectant, "Disinfectant"},
	{TestStrip, "Test strip"},
	{OtherCategory, "Other"},
}

// Categories returns all categories in the order of a list.
func Categories() []Category {
	cs := make([]Category, len(categoryTitles))
	for i, c := range categoryTitles {
		cs[i] = c.Category
	}
	return cs
}

// Title returns the category in words.
func (c Category) Title() string {
	for _, t := range categoryTitles {
		if t.Category == c {
			return t.Title
		}
	}
	if c == "" {
		return "Unknown product"
	}
	return string(c)
}

// Known reports whether c is one of the categories.
func (c Category) Known() bool { return slices.Contains(Categories(), c) }

// A Product is a thing that the unit buys.
type Product struct {
	ID       ProductID `json:"id"`
	Name     string    `json:"name"`
	Category Category  `json:"category"`
	Maker    string    `json:"maker,omitempty"`
	Packs    []Pack    `json:"packs,omitempty"`
	Facts    Facts     `json:"facts,omitzero"`
	// Components make it a kit.
	Components []Component `json:"components,omitempty"`
}

// A Pack is one packaging level. A product's packs go from the single piece
// outward.
type Pack struct {
	Level string `json:"level"` // "each", "inner" or "case"
	GTIN  string `json:"gtin,omitempty"`
	// Code is what another agency than GS1 numbers it with: see ValidCode.
	Code string `json:"code,omitempty"`
	// Holds is how many pieces (base units of the product) are in it; 1
	// for each.
	Holds int64 `json:"holds"`
}

// The packaging levels.
const (
	LevelEach  = "each"
	LevelInner = "inner"
	LevelCase  = "case"
)

// Facts are what the checks and the rules of expected use need to know. Zero
// means not known or not applicable; for a concentrate that truly has no
// potassium or calcium, IonsKnown says so.
type Facts struct {
	// Potassium and Calcium are of the dialysate that the concentrate makes
	// when mixed, in micromoles per litre: 2000 is 2.0 mmol/L. Calcium 1250
	// is 1.25 mmol/L, which is 2.5 mEq/L.
	Potassium int64 `json:"potassium_umol_per_l,omitempty"`
	Calcium   int64 `json:"calcium_umol_per_l,omitempty"`
	IonsKnown bool  `json:"ions_known,omitempty"`
	// MixSystem is "35X", "36.83X" or "45X".
	MixSystem MixSystem `json:"mix_system,omitempty"`
	// FillVolume is the content of one piece in millilitres.
	FillVolume int64 `json:"fill_volume_ml,omitempty"`
	// UnitsPerML is the strength of heparin.
	UnitsPerML int64 `json:"units_per_ml,omitempty"`
	// Shared is set when one piece serves several treatments (a multi-dose
	// vial, a canister that feeds several machines): expected use then adds
	// up volumes before it counts pieces. Otherwise the rest of a piece is
	// thrown away after one treatment.
	Shared bool `json:"shared,omitempty"`
	// ShortDatedDays is how many days before its expiry a lot counts as
	// short dated; 0 means the unit's setting.
	ShortDatedDays int `json:"short_dated_days,omitempty"`
}

// Concentration returns micromoles per litre as people write it, with its
// unit: "1.25 mmol/L".
func Concentration(umol int64) string {
	s := fmt.Sprintf("%d.%03d", umol/1000, umol%1000)
	s = strings.TrimRight(s, "0")
	if strings.HasSuffix(s, ".") {
		s += "0"
	}
	return s + " mmol/L"
}

// Composition returns what tells a concentrate from its neighbours, in one
// line: "45X, K 2.0 mmol/L, Ca 1.25 mmol/L".
func (f Facts) Composition() string {
	var parts []string
	if f.MixSystem != "" {
		parts = append(parts, string(f.MixSystem))
	}
	if f.IonsKnown {
		parts = append(parts, "K "+Concentration(f.Potassium), "Ca "+Concentration(f.Calcium))
	}
	return strings.Join(parts, ", ")
}

// check says whether a product can be recorded.
func (p *Product) check() error {
	switch {
	case strings.TrimSpace(string(p.ID)) == "" || !rowcode.Valid(string(p.ID)) || len(p.ID) > 64:
		return Invalid("id", "Give the unit's own code or the maker's reference, at most 64 bytes.", "a product needs an id")
	case p.ID.Provisional():
		return Invalid("id", "Choose an id that does not begin with "+provisional+", "+agencyHIBC+" or "+agencyICCBBA+".", "%q is kept for products not yet in the catalogue", p.ID)
	case strings.TrimSpace(p.Name) == "":
		return Invalid("name", "Give the name that people at the chair use.", "product %s needs a name", p.ID)
	case !p.Category.Known():
		return Invalid("category", "Use one of: "+joinCategories()+".", "product %s: there is no category %q", p.ID, p.Category)
	case p.Facts.MixSystem != "" && !p.Facts.MixSystem.Known():
		return Invalid("mix_system", "Use 35X, 36.83X or 45X.", "product %s: there is no mix system %q", p.ID, p.Facts.MixSystem)
	case p.Facts.Potassium < 0 || p.Facts.Calcium < 0 || p.Facts.FillVolume < 0 || p.Facts.UnitsPerML < 0 || p.Facts.ShortDatedDays < 0:
		return Invalid("facts", "Leave out what is not known.", "product %s: a fact is below zero", p.ID)
	}
	if err := p.checkComponents(); err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, k := range p.Packs {
		switch {
		case k.Level != LevelEach && k.Level != LevelInner && k.Level != LevelCase:
			return Invalid("packs", "Use each, inner or case.", "product %s: there is no pack level %q", p.ID, k.Level)
		case k.Holds < 1 || (k.Level == LevelEach && k.Holds != 1):
			return Invalid("packs", "Count the pieces in the pack; an each holds 1.", "product %s: a pack (%s) holds %d", p.ID, k.Level, k.Holds)
		case k.GTIN != "" && !ValidGTIN14(k.GTIN):
			return Invalid("packs", "Copy the GTIN from the pack, with zeros in front to make 14 digits.", "product %s: %q is not a GTIN of 14 digits with a right check digit", p.ID, k.GTIN)
		case k.Code != "" && !ValidCode(k.Code):
			return Invalid("packs", "Write hibc: and labeler, product number and packaging level as they stand behind the + on the label, or iccbba: and the 16 characters behind =/.", "product %s: %q is no code of a pack", p.ID, k.Code)
		}
		for _, n := range k.numbers() {
			if seen[n] {
				return Invalid("packs", "Each packaging level has a number of its own.", "product %s: %s is given twice", p.ID, n)
			}
			seen[n] = true
		}
	}
	return nil
}

func joinCategories() string {
	var ss []string
	for _, c := range Categories() {
		ss = append(ss, string(c))
	}
	return strings.Join(ss, ", ")
}

// ProductSet puts a product into the catalogue, or a new version of it.
type ProductSet struct {
	Product
}

// Kind implements Event.
func (*ProductSet) Kind() string { return "product.set" }

// Project implements Event.
func (p *ProductSet) Project(w Writer, e journal.Entry) error {
	key := rowcode.AppendText(nil, string(p.ID))
	old, err := w.Get(ixProduct, key)
	if err != nil {
		return err
	}
	if old != nil {
		was, _, err := decodeProduct(old)
		if err != nil {
			return err
		}
		for _, c := range was.Components {
			if err := w.Delete(ixKitOf, rowcode.AppendText(nil, string(c.Product), string(p.ID))); err != nil {
				return err
			}
		}
		if err := p.dropNumbers(w, was); err != nil {
			return err
		}
	}
	for _, c := range p.Components {
		if err := w.Put(ixKitOf, rowcode.AppendText(nil, string(c.Product), string(p.ID)), nil); err != nil {
			return err
		}
	}
	if err := p.putNumbers(w); err != nil {
		return err
	}
	doc, err := json.Marshal(&p.Product)
	if err != nil {
		return err
	}
	v := rowcode.NewEnc(1, len(doc)+16)
	v.Uint(e.Seq)
	v.Blob(doc)
	return w.Put(ixProduct, key, v.Bytes())
}

func decodeProduct(row []byte) (*Product, uint64, error) {
	d := rowcode.NewDec(1, row)
	seq, doc := d.Uint(), d.Blob()
	if err := d.Err(); err != nil {
		return nil, 0, fmt.Errorf("product row: %w", err)
	}
	p := new(Product)
	if err := json.Unmarshal(doc, p); err != nil {
		return nil, 0, fmt.Errorf("product row: %w", err)
	}
	return p, seq, nil
}

// ValidGTIN14 reports whether s is 14 digits with a right check digit (weights
// 3,1,3… from the right; GS1 General Specifications 7.9.1).
func ValidGTIN14(s string) bool { return len(s) == 14 && validCheckDigit(s) }

// validCheckDigit reports whether s is digits of which the last is right.
func validCheckDigit(s string) bool {
	sum, weight := 0, 1
	for i := len(s) - 1; i >= 0; i-- {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
		sum += int(s[i]-'0') * weight
		weight = 4 - weight
	}
	return sum%10 == 0
}
