package letter_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"lotbook/reports"
	"lotbook/reports/letter"
)

func workbook() *reports.Workbook {
	table := &reports.Table{Columns: []reports.Column{{Header: "Grade", Kind: reports.KindText}, {Header: "Treatments", Kind: reports.KindInteger}}}
	table.Rows = reports.RowsOf([]reports.Cell{reports.Text("confirmed"), reports.Integer(3)}, []reports.Cell{reports.Mark("none found"), reports.Blank()})
	return &reports.Workbook{
		Title: "Reply to <FSN> & co", AskedAt: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC), Caution: "A notice's own instructions come first.", Zone: time.FixedZone("", 3600),
		Sheets: []reports.Sheet{
			{Name: "Reply", Summary: &reports.Summary{Sections: []reports.Section{
				{Title: "The answer", Text: []string{"</style><script>alert(1)</script>", "a\u202eb"}, Facts: []reports.Fact{
					{Label: "Made", Value: reports.Instant(time.Date(2026, 3, 2, 23, 30, 0, 0, time.UTC)), Note: "at night"},
					{Label: "Received", Value: reports.NotRecorded()},
					{Label: "Litres", Value: reports.Decimal(3840, 3)},
					{Label: "Known", Value: reports.Flag(true)},
				}, Table: table},
				{Title: "Signed", Facts: []reports.Fact{{Label: "Signature", Value: reports.Blank()}}},
			}}},
			{Name: "Every piece", Table: table},
		},
	}
}

// The page holds what the summary says as text, a line to sign on, no script and
// nothing to fetch. It is read by golang.org/x/net/html, a parser of HTML5.
func TestLetter(t *testing.T) {
	for _, paper := range []reports.Paper{reports.A4, reports.Letter} {
		wb := workbook()
		wb.Paper = paper
		var b bytes.Buffer
		if err := letter.Write(&b, wb); err != nil {
			t.Fatal(err)
		}
		doc, err := html.Parse(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		var text strings.Builder
		count := map[string]int{}
		var style string
		for n := range doc.Descendants() {
			switch {
			case n.Type == html.ElementNode:
				count[n.Data]++
				for _, a := range n.Attr {
					if a.Key == "src" || a.Key == "href" || strings.HasPrefix(a.Key, "on") || a.Key == "style" {
						t.Errorf("<%s %s=%q>", n.Data, a.Key, a.Val)
					}
					if a.Key == "class" {
						count["."+a.Val]++
					}
				}
			case n.Type == html.TextNode && n.Parent.Data == "style":
				style = n.Data
			case n.Type == html.TextNode:
				text.WriteString(n.Data + "\n")
			}
		}
		for _, want := range []string{"Reply to <FSN> & co", "A notice's own instructions come first.", "<script>alert(1)</script>", `a\u202Eb`, "2026-03-03 00:30", "at night", "3.840", "yes", "confirmed", "3"} {
			if !strings.Contains(text.String(), want) {
				t.Errorf("the letter does not say %q:\n%s", want, text.String())
			}
		}
		if count["script"] != 0 || count["img"] != 0 || count["link"] != 0 || count[".line"] != 1 || count[".mark"] != 2 || count["table"] != 1 || count["tr"] != 3 {
			t.Errorf("the page has %v", count)
		}
		if strings.Index(text.String(), "come first") > strings.Index(text.String(), "The answer") {
			t.Error("the caution does not come first")
		}
		if want := map[reports.Paper]string{reports.A4: "size: A4", reports.Letter: "size: letter"}[paper]; !strings.Contains(style, want) {
			t.Errorf("the style lacks %q", want)
		}
		sum := sha256.Sum256([]byte(style))
		if want := "style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !strings.Contains(letter.Policy(paper), want) || !strings.HasPrefix(letter.Policy(paper), "default-src 'none'") {
			t.Errorf("the policy %q lets another style in than %q", letter.Policy(paper), want)
		}
	}
}

// What can't be drawn writes nothing.
func TestLetterFails(t *testing.T) {
	var b bytes.Buffer
	if err := letter.Write(&b, &reports.Workbook{Title: "x"}); !errors.Is(err, reports.ErrBadWorkbook) || b.Len() != 0 {
		t.Errorf("%v, and %d bytes", err, b.Len())
	}
	wb := workbook()
	wb.Sheets[0].Summary.Sections[0].Table.Rows = reports.RowsOf([]reports.Cell{reports.Text("too few")})
	if err := letter.Write(&b, wb); !errors.Is(err, reports.ErrBadRow) || b.Len() != 0 {
		t.Errorf("%v, and %d bytes", err, b.Len())
	}
}
