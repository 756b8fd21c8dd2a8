package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"

	"github.com/gin-gonic/gin"
)

//go:embed assets
var assetFiles embed.FS

// An asset is a file that pages refer to, under an address that holds a sum of
// its content.
type asset struct {
	url, kind string
	body      []byte
}

type assets struct {
	byName map[string]*asset // "app.css"
	byPath map[string]*asset // "/app.0123456789ab.css"
}

func loadAssets() (*assets, error) {
	a := &assets{map[string]*asset{}, map[string]*asset{}}
	files, err := fs.ReadDir(assetFiles, "assets")
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		if f.IsDir() {
			continue
		}
		body, err := assetFiles.ReadFile("assets/" + f.Name())
		if err != nil {
			return nil, err
		}
		a.add(f.Name(), body)
	}
	script, err := loadScript()
	if err != nil {
		return nil, err
	}
	a.add("app.js", script)
	return a, nil
}

// loadScript joins the files of the pages' script, in the order of their names.
// They see each other, and nothing else sees them.
func loadScript() ([]byte, error) {
	files, err := fs.ReadDir(assetFiles, "assets/app")
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.WriteString("\"use strict\";\n(function () {\n")
	for _, f := range files {
		body, err := assetFiles.ReadFile("assets/app/" + f.Name())
		if err != nil {
			return nil, err
		}
		b.Write(body)
	}
	b.WriteString("})();\n")
	return b.Bytes(), nil
}

func (a *assets) add(file string, body []byte) {
	sum := sha256.Sum256(body)
	ext := path.Ext(file)
	name := fmt.Sprintf("/%s.%s%s", strings.TrimSuffix(file, ext), hex.EncodeToString(sum[:6]), ext)
	kind := mime.TypeByExtension(ext)
	switch ext {
	case ".css":
		kind = "text/css; charset=utf-8"
	case ".js":
		kind = "text/javascript; charset=utf-8"
	case ".svg":
		kind = "image/svg+xml"
	}
	as := &asset{"/assets" + name, kind, body}
	a.byName[file], a.byPath[name] = as, as
}

func (a *assets) url(name string) string { return a.byName[name].url }

// serve answers with an asset. Its content can't change under its address, so
// it may be kept for ever (RFC 8246).
func (a *assets) serve(c *gin.Context) {
	as := a.byPath[c.Param("path")]
	if as == nil {
		c.Header("Cache-Control", "no-store")
		c.String(http.StatusNotFound, "There is no such file. Load the page again.\n")
		return
	}
	secure(c)
	c.Header("Cache-Control", "public, max-age=31536000, immutable")
	c.Data(http.StatusOK, as.kind, as.body)
}
