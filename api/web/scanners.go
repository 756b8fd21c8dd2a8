package web

import (
	"bytes"
	"errors"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/scanner"
	"lotbook/scanner/picture/draw"
	"lotbook/scanner/wedge"
)

type scannersPage struct {
	Frame
	MayWrite bool
	Problem  *trouble
	// Name and Scans are what was typed and scanned.
	Name, Scans string
	Tested      *testedScanner
	Scanners    []scannerRow
	// Used is the scanner that this device uses, empty for none.
	Used string
}

// A testedScanner is what the scans of the test sheet show. Usable says that
// they give a profile.
type testedScanner struct {
	Usable   bool
	Findings []wedge.Finding
	Facts    []fact
}

// A fact is one line of a profile in words.
type fact struct{ Name, Value string }

type scannerRow struct {
	ID, Since, By string
	Used          bool
	Facts         []fact
}

// scanners shows the unit's keyboard scanners and asks for a test.
func (p *Pages) scanners(c *gin.Context) error {
	return p.showScanners(c, http.StatusOK, &scannersPage{})
}

func (p *Pages) showScanners(c *gin.Context, status int, page *scannersPage) error {
	page.Frame, page.MayWrite = p.frame(c, "Scanners", "/scanners"), p.may(c, "POST /scanners")
	people, err := p.Auth.Names(c.Request.Context())
	if err != nil {
		return err
	}
	used := scannerOf(c)
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err != nil {
			return err
		}
		page.Unit = k.unit.Name
		n, err := p.namesOf(r)
		if err != nil {
			return err
		}
		n.people = people
		list, err := inventory.Scanners(r)
		for _, s := range list {
			row := scannerRow{ID: string(s.ID), Since: k.day(s.Since), By: n.who(s.By), Used: s.ID == used, Facts: factsOf(s.Profile)}
			if row.Used {
				page.Used = row.ID
			}
			page.Scanners = append(page.Scanners, row)
		}
		return err
	})
	if err != nil {
		return err
	}
	return show(c, status, p.views.scanners, page)
}

// sheet is the test sheet, to be printed.
func (p *Pages) sheet(c *gin.Context) error {
	paper := draw.A4
	if strings.EqualFold(c.Query("paper"), draw.Letter.Name) {
		paper = draw.Letter
	}
	var b bytes.Buffer
	if err := draw.Sheet(&b, paper); err != nil {
		return err
	}
	secure(c)
	c.Data(http.StatusOK, "image/svg+xml", b.Bytes())
	return nil
}

// scannersPost says what the scans of the test sheet show, keeps it, or chooses
// the scanner that this device uses; the field "action" says which.
func (p *Pages) scannersPost(c *gin.Context) error {
	id, err := identity(c)
	if err != nil {
		return err
	}
	name := strings.TrimSpace(c.PostForm("name"))
	if c.PostForm("action") == "choose" {
		return p.chooseScanner(c, inventory.ScannerID(name))
	}
	page := &scannersPage{Name: name, Scans: c.PostForm("scans")}
	if len(page.Scans) > scanner.MaxLength {
		page.Scans = ""
		page.Problem = &trouble{"This is longer than the test sheet.", "Scan each of its four codes once."}
		return p.showScanners(c, http.StatusUnprocessableEntity, page)
	}
	profile, findings, err := wedge.Diagnose(wedge.Lines(page.Scans))
	page.Tested = &testedScanner{Usable: err == nil, Findings: findings}
	switch {
	case err == nil:
		page.Tested.Facts = factsOf(profile)
	case errors.Is(err, wedge.ErrSheet):
		return p.showScanners(c, http.StatusUnprocessableEntity, page)
	default:
		return err
	}
	if c.PostForm("action") != "keep" {
		return p.showScanners(c, http.StatusOK, page)
	}
	s := inventory.Scanner{ID: inventory.ScannerID(name), Profile: profile}
	_, err = p.Book.SetScanner(c.Request.Context(), id.Call(c.PostForm("key")), s)
	var refusal *inventory.Refusal
	if errors.As(err, &refusal) {
		page.Problem = &trouble{sentence(refusal.Message), refusal.Hint}
		return p.showScanners(c, http.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	setScanner(c, s.ID)
	see(c, "/scanners")
	return nil
}

// chooseScanner has this device use a scanner that was tested, or none.
func (p *Pages) chooseScanner(c *gin.Context, id inventory.ScannerID) error {
	if id != "" {
		err := p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
			_, err := inventory.ScannerByID(r, id)
			return err
		})
		if err != nil {
			return err
		}
	}
	setScanner(c, id)
	see(c, "/scanners")
	return nil
}

// scannerCookie names the scanner that hangs at a device. It is no secret, and
// whoever signs in there next uses the same.
const scannerCookie = "lotbook-scanner"

func setScanner(c *gin.Context, id inventory.ScannerID) {
	age := 400 * 24 * 60 * 60 // seconds: browsers keep no cookie longer (RFC 6265bis, section 5.5)
	if id == "" {
		age = -1
	}
	http.SetCookie(c.Writer, &http.Cookie{
		Name: scannerCookie, Value: url.QueryEscape(string(id)), Path: "/", MaxAge: age, HttpOnly: true, SameSite: http.SameSiteStrictMode,
		Secure: c.Request.TLS != nil,
	})
}

// scannerOf returns the scanner that the device of a request uses, empty for
// none.
func scannerOf(c *gin.Context) inventory.ScannerID {
	cookie, err := c.Request.Cookie(scannerCookie)
	if err != nil {
		return ""
	}
	id, err := url.QueryUnescape(cookie.Value)
	if err != nil {
		return ""
	}
	return inventory.ScannerID(id)
}

// profile returns what the scanner of a request's device does to text, on a
// snapshot of the book. A scanner that is not known any more does what the
// unit's scanners do.
func (p *Pages) profile(c *gin.Context, r inventory.Reader) (wedge.Profile, error) {
	id := scannerOf(c)
	if strings.ContainsRune(string(id), 0) {
		return p.Scanner, nil
	}
	profile, err := reading.Profile(r, id, p.Scanner)
	if errors.Is(err, inventory.ErrNotFound) {
		return p.Scanner, nil
	}
	return profile, err
}

// factsOf puts a profile in words.
func factsOf(w wedge.Profile) []fact {
	fs := []fact{{"Separator", ""}, {"Keyboard layout", "the same on scanner and computer"}, {"Caps Lock", "not on"}}
	switch w.Separator {
	case "":
		fs[0].Value = "not known"
	case wedge.Dropped:
		fs[0].Value = "does not arrive"
	case "\x1d":
		fs[0].Value = "arrives"
	default:
		fs[0].Value = "arrives as " + w.Separator
	}
	if w.Scanner != w.Host {
		fs[1].Value = "scanner " + string(w.Scanner) + ", computer " + string(w.Host)
	}
	switch w.CapsLock {
	case wedge.CapsOn:
		fs[2].Value = "was on"
	case wedge.CapsShift:
		fs[2].Value = "was on, for digits and marks too"
	}
	if w.Prefix != "" {
		fs = append(fs, fact{"In front of each code", readable(w.Prefix)})
	}
	if w.Suffix != "" {
		fs = append(fs, fact{"After each code", readable(w.Suffix)})
	}
	return fs
}
