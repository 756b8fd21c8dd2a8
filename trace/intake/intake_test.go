package intake_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"lotbook/inventory"
	"lotbook/trace/intake"
)

func open(t *testing.T, name, text string) *intake.Table {
	t.Helper()
	tab, err := intake.Open(strings.NewReader(text), name)
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

// A list that a spreadsheet has had its hands on: LibreOffice takes GTINs for
// numbers and dates for dates. GTINs are invented, in GS1's documentation
// range; their check digits follow GS1 General Specifications 7.9.1.
func TestWorkbookMadeByLibreOffice(t *testing.T) {
	soffice, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatal("LibreOffice is missing: apt-get install --no-install-recommends libreoffice-calc-nogui (make test does)")
	}
	dir := t.TempDir()
	list := "gtin,lot,expires,packs,to,supplier\n09506000100012,0042,2027-06-30,2,room,Invented Supplies\n9506000100029,L-7,2028-02-29,1,room,\n"
	if err := os.WriteFile(filepath.Join(dir, "list.csv"), []byte(list), 0o600); err != nil {
		t.Fatal(err)
	}
	// Filter 44,34,76: comma, quote, UTF-8; lot is column 2, read as text (2).
	out, err := exec.Command(soffice, "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless", "--infilter=CSV:44,34,76,1,2/2",
		"--convert-to", "xlsx", "--outdir", dir, filepath.Join(dir, "list.csv")).CombinedOutput()
	if err != nil {
		t.Fatalf("soffice: %v\n%s", err, out)
	}
	raw, err := os.ReadFile(filepath.Join(dir, "list.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	tab, err := intake.Open(bytes.NewReader(raw), "list.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	got, lines, bad := intake.Receipts.All(tab)
	if len(bad) > 0 || len(got) != 2 || lines[1] != 3 {
		t.Fatalf("%v, %d rows, lines %v", bad, len(got), lines)
	}
	for i, want := range []inventory.Received{
		{Stock: inventory.Stock{GTIN: "09506000100012", Lot: "0042", Expires: "2027-06-30", Packs: 2}, To: "room", Supplier: "Invented Supplies"},
		{Stock: inventory.Stock{GTIN: "09506000100029", Lot: "L-7", Expires: "2028-02-29", Packs: 1}, To: "room"},
	} {
		g := got[i]
		if g.GTIN != want.GTIN || g.Lot != want.Lot || g.Expires != want.Expires || g.Packs != want.Packs || g.To != want.To || g.Supplier != want.Supplier {
			t.Errorf("row %d: %+v, want %+v", i, g, want)
		}
	}
}

// A lot that a spreadsheet took for a number is refused, not guessed: 00123 has
// become 123.
func TestLotsThatBecameNumbers(t *testing.T) {
	f := excelize.NewFile()
	for cell, v := range map[string]any{"A1": "gtin", "B1": "lot", "C1": "quantity", "D1": "to", "A2": "09506000100012", "B2": 123, "C2": 4, "D2": "room", "A3": "09506000100012", "B3": "00123", "C3": 4, "D3": "room"} {
		if err := f.SetCellValue("Sheet1", cell, v); err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	tab, err := intake.Open(&b, "lots.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	got, _, bad := intake.Receipts.All(tab)
	if len(got) != 1 || got[0].Lot != "00123" || len(bad) != 1 || bad[0].Line != 2 || bad[0].Column != "lot" {
		t.Errorf("%+v, %v", got, bad)
	}
}

func TestEachBadCellIsNamed(t *testing.T) {
	tab := open(t, "p.csv", "\ufeffid;name;category;potassium_mmol_l;calcium_mmol_l;case_gtin;case_holds;fill_volume_ml\n"+
		"A;Acid;acid_concentrate;2;;;;\n"+
		"B;Acid;acid_concentrate;2,0;1.25;;;5 L\n"+
		"\n"+
		"C;;dialyzer;;;;24;\n"+
		"D;Dialyzer;dialyzer;;;;;\n")
	got, _, bad := intake.Products.All(tab)
	if len(got) != 1 || got[0].ID != "D" {
		t.Errorf("taken: %+v", got)
	}
	var said []string
	for _, p := range bad {
		said = append(said, p.Error())
		if p.Hint == "" {
			t.Errorf("%v: no hint", p)
		}
	}
	want := []string{
		"p.csv, line 2, column calcium_mmol_l: one of the two is missing",
		`p.csv, line 3, column fill_volume_ml: "5 L" is not a whole number`,
		"p.csv, line 5, column name: it is empty",
		"p.csv, line 5, column case_holds: one of the two is missing",
	}
	if strings.Join(said, "\n") != strings.Join(want, "\n") {
		t.Errorf("said:\n%s\nwant:\n%s", strings.Join(said, "\n"), strings.Join(want, "\n"))
	}
}

func TestConcentrationsAndFactors(t *testing.T) {
	ps, _, bad := intake.Products.All(open(t, "p.csv", "id,name,category,potassium_mmol_l,calcium_mmol_l,mix_system\nA,Acid,acid_concentrate,2.0,1.25,45X\nZ,Zero,acid_concentrate,0,0,45X\n"))
	if len(bad) > 0 || ps[0].Facts.Potassium != 2000 || ps[0].Facts.Calcium != 1250 || !ps[1].Facts.IonsKnown {
		t.Errorf("%v %+v", bad, ps)
	}
	es, _, bad := intake.Patients.All(open(t, "e.csv", "id,name,access,minutes,blood_flow_ml_min,flow_factor,acid_concentrate\nP1,Invented One,fistula,240,400,\"1,8\",A\nP2,Invented Two,,,,,\nP3,Invented Three,shunt,240,400,1.8,A\n"))
	if len(es) != 2 || es[0].Prescription.Flow() != 720 || es[1].Prescription != nil {
		t.Errorf("%+v", es)
	}
	if len(bad) != 1 || bad[0].Line != 4 || !strings.Contains(bad[0].What, "shunt") {
		t.Errorf("%v", bad)
	}
}

func TestFilesThatAreNoLists(t *testing.T) {
	for name, data := range map[string]string{
		"empty.csv": "", "latin1.csv": "id,name\nA,Gr\xfc\xdfe\n", "torn.csv": "id,name\n\"A,B\n", "zip.xlsx": "PK\x03\x04 and nothing else",
		"twice.csv": "id,id\nA,B\n",
	} {
		if _, err := intake.Open(strings.NewReader(data), name); err == nil {
			t.Errorf("%s was taken", name)
		} else if p, ok := err.(*intake.Problem); !ok || p.Hint == "" {
			t.Errorf("%s: %v has no hint", name, err)
		}
	}
}

// A pack may be numbered by another agency than GS1. The identifiers are those
// of the published examples (ANSI/HIBC 2.6, 2.2.1.1; FDA, UDI formats by issuing
// agency, version 1.3).
func TestPacksOfOtherAgencies(t *testing.T) {
	csv := "id,name,category,each_code,case_gtin,case_code,case_holds\n" +
		"DLZ,Dialyzer,dialyzer,hibc:A99912345,,iccbba:A9999XYZ100T0944,24\n" +
		"DLY,Dialyzer,dialyzer,+A99912345,,,\n"
	ps, _, problems := intake.Products.All(open(t, "products.csv", csv))
	want := []inventory.Pack{{Level: "each", Code: "hibc:A99912345", Holds: 1}, {Level: "case", Code: "iccbba:A9999XYZ100T0944", Holds: 24}}
	if len(ps) != 1 || !reflect.DeepEqual(ps[0].Packs, want) {
		t.Errorf("%+v", ps)
	}
	if len(problems) != 1 || problems[0].Line != 3 || problems[0].Column != "each_code" {
		t.Errorf("%+v", problems)
	}
}
