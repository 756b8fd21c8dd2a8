//go:build keep

package keep

import (
	_ "github.com/chromedp/chromedp"
	_ "github.com/getkin/kin-openapi/openapi3filter"
	_ "github.com/gin-gonic/gin"
	_ "github.com/jba/templatecheck"
	_ "github.com/klauspost/compress/flate"
	_ "github.com/makiuchi-d/gozxing"
	_ "github.com/rogpeppe/go-internal/testscript"
	_ "github.com/xuri/excelize/v2"
	_ "go.etcd.io/bbolt"
	_ "golang.org/x/crypto/argon2"
	_ "golang.org/x/image/webp"
	_ "golang.org/x/term"
	_ "pgregory.net/rapid"
)
