package xlsx

import (
	"context"
	stdcsv "encoding/csv"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestLibreOffice opens the sample with LibreOffice and compares every cell of
// every sheet, as it is shown, with what is written here by hand. Text comes
// out in quotes and numbers don't, so that a date or a number that LibreOffice
// took for text, or a text that it took for anything else, shows.
func TestLibreOffice(t *testing.T) {
	got := libreOffice(t, file(t, sample(t)))
	want := map[string]string{
		"Summary": `
"Which patients received lot 24A117"			
"Asked by"	"R. Okafor & J. Lind"		
"Asked at"	2026-11-25 10:24		
"Times are those of"	"America/New_York"		
			
"This workbook shows what was recorded. It does not replace the instructions of a field notice, the prescription check or licensed practice."			
			
"Answer"			
"=2+2 is the first paragraph.
It has two lines."			
"Patients, confirmed"	12	"A pack of the lot was recorded in the treatment."	
"Patients, cannot be excluded"	"none found"	"Nothing recorded, and the lot was on hand."	
"Dialysate"	172.8		
"Expires"	2027-03-31		
"Lot, as printed"	"+A99912345/$$52001510X3"		
"Held"	"yes"		
"Longest treatment"	4:15		
"Journal's head hash"	"9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"		
			
"Open"			
"Two treatments have no dialyzer recorded."			
			
"By station"			
"Station"	"Counted"	"Recorded"	"Since"
"S01"	4	3	2026-11-24 06:00
"=S02"	1,024	"not recorded"	
`,
		"Uses": `
"Patient"	"Lot"	"Packs"	"Dialysate (L)"	"Expires"	"Used from"	"Recorded"	"Length"	"Replaced"	"Remark"
"P-0001"	"=1+1"	2	172.800	2027-03-31	2026-11-25 10:25	2026-11-25 10:25:07	4:15	"yes"	"first line
second line"
"P-0002"	"not recorded"	-1,234,567	-0.005	"2027-02-30"	2026-11-01 01:30 -04:00	2026-11-01 01:30:00 -05:00	"-0:15"	"no"	
"P-0003"	"00012"	"1000000000000000"	"none found"	"1899-12-31"	2026-11-25 18:59	"unknown"	25:00	"not recorded"	"@x"
`,
		"Texts- =1+1 ’a’ -b-": `
"=1+1"	"+n"
"=1+1"	0
"=cmd|' /C calc'!A0"	1
"+A99912345/$$52001510X3"	2
"-2+3"	3
"@SUM(1,1)"	4
"␉=1+1"	5
"␍=1+1"	6
"'=1+1"	7
"=HYPERLINK(""http://example.invalid"",""x"")"	8
"␝10LOT"	9
"A␀B"	10
"caf\xE9"	11
"a\u202Egnp.exe"	12
"_x0041_"	13
"_x005F_x0041_"	14
" lead and trail "	15
"0012"	16
"1E5"	17
"12/11"	18
"2026-11-25"	19
"TRUE"	20
"<b>&amp;""'"	21
"１２"	22
"two␊lines"	23
"#REF!"	24
`,
		"Empty": `
"Nothing"
`,
	}
	for name, w := range want {
		if g, w := got[name], strings.TrimPrefix(w, "\n"); g != w {
			t.Errorf("sheet %q:\n%s", name, firstDifference(g, w))
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d sheets, want %d", len(got), len(want))
	}
}

// TestLibreOfficeLong compares a table that is longer than the rows that are
// measured and that ends on a further sheet.
func TestLibreOfficeLong(t *testing.T) {
	book := longBook(5000)
	got := libreOffice(t, fileWith(t, book, limits{rows: 3000, bytes: maxSheetBytes}))
	next := 0
	for _, name := range []string{"Long", "Long (2)"} {
		r := stdcsv.NewReader(strings.NewReader(got[name]))
		r.Comma = '\t'
		records, err := r.ReadAll()
		if err != nil || len(records) < 2 {
			t.Fatalf("%q: %d records, %v", name, len(records), err)
		}
		for _, rec := range records[1:] {
			at := time.Unix(longStart+61*int64(next), 0).UTC()
			want := []string{fmt.Sprintf("=L%05d", next), fmt.Sprint(next % 1000), at.Format("2006-01-02 15:04:05"), at.Format(time.DateOnly)}
			if strings.Join(rec, "|") != strings.Join(want, "|") {
				t.Fatalf("%q, row %d: got %q, want %q", name, next, rec, want)
			}
			next++
		}
	}
	if next != 5000 || len(got) != 2 {
		t.Errorf("%d rows on %d sheets", next, len(got))
	}
}

// libreOffice returns the sheets by name as LibreOffice shows their cells:
// fields parted by tabs, all text in quotes.
func libreOffice(t *testing.T, workbook []byte) map[string]string {
	t.Helper()
	soffice, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatalf("%v\nhint: install the package libreoffice-calc-nogui", err)
	}
	dir := t.TempDir()
	name, out := filepath.Join(dir, "book.xlsx"), filepath.Join(dir, "out")
	if err := os.WriteFile(name, workbook, 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
	defer cancel()
	// The tokens of LibreOffice's CSV filter (its help, "Filter Options for
	// CSV"): tab, quote, UTF-8, from line 1, columns as they are, English
	// (USA), quote all text, don't detect numbers, as shown, no formulas,
	// keep spaces, every sheet.
	cmd := exec.CommandContext(ctx, soffice, "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless",
		"--convert-to", "csv:Text - txt - csv (StarCalc):9,34,76,1,,1033,true,false,true,false,false,-1", "--outdir", out, name)
	text, err := cmd.CombinedOutput()
	if errors.Is(ctx.Err(), context.DeadlineExceeded) {
		t.Fatalf("soffice did not end in three minutes:\n%s", text)
	}
	if err != nil {
		t.Fatalf("soffice: %v\n%s", err, text)
	}
	files, err := filepath.Glob(filepath.Join(out, "*.csv"))
	if err != nil || len(files) == 0 {
		t.Fatalf("soffice wrote nothing (%v):\n%s", err, text)
	}
	sheets := make(map[string]string)
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		sheet := strings.TrimSuffix(strings.TrimPrefix(filepath.Base(f), "book-"), ".csv")
		sheets[sheet] = string(data)
	}
	return sheets
}

func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range max(len(g), len(w)) {
		a, b := "(nothing)", "(nothing)"
		if i < len(g) {
			a = g[i]
		}
		if i < len(w) {
			b = w[i]
		}
		if a != b {
			return fmt.Sprintf("line %d\n got %s\nwant %s", i+1, a, b)
		}
	}
	return "no difference"
}
