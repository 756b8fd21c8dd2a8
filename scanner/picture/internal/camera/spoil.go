package camera

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
)

// Blur convolves with a Gaussian of sigma pixels.
func (s *Scene) Blur(sigma float64) {
	if sigma < 0.1 {
		return
	}
	n := int(math.Ceil(3 * sigma))
	k := make([]float32, 2*n+1)
	var sum float32
	for i := range k {
		d := float64(i - n)
		k[i] = float32(math.Exp(-d * d / (2 * sigma * sigma)))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	tmp := make([]float32, len(s.Pix))
	for y := range s.H {
		row, out := s.Pix[y*s.W:(y+1)*s.W], tmp[y*s.W:(y+1)*s.W]
		for x := range out {
			var v float32
			for i, f := range k {
				v += f * row[max(0, min(s.W-1, x+i-n))]
			}
			out[x] = v
		}
	}
	for y := range s.H {
		out := s.Pix[y*s.W : (y+1)*s.W]
		clear(out)
		for i, f := range k {
			row := tmp[max(0, min(s.H-1, y+i-n))*s.W:]
			for x := range out {
				out[x] += f * row[x]
			}
		}
	}
}

// Motion smears along a line of so many pixels at an angle in radians.
func (s *Scene) Motion(length, angle float64) {
	n := max(2, int(length*2))
	dy, dx := math.Sincos(angle)
	src := append([]float32(nil), s.Pix...)
	for y := range s.H {
		for x := range s.W {
			var v float32
			for i := range n {
				t := (float64(i)/float64(n-1) - 0.5) * length
				v += bilinear(src, s.W, s.H, float64(x)+t*dx, float64(y)+t*dy)
			}
			s.Pix[y*s.W+x] = v / float32(n)
		}
	}
}

func bilinear(p []float32, w, h int, x, y float64) float32 {
	x, y = max(0, min(float64(w-1), x)), max(0, min(float64(h-1), y))
	xi, yi := min(int(x), w-2), min(int(y), h-2)
	fx, fy := float32(x-float64(xi)), float32(y-float64(yi))
	a, b := p[yi*w+xi:], p[(yi+1)*w+xi:]
	return (a[0]*(1-fx)+a[1]*fx)*(1-fy) + (b[0]*(1-fx)+b[1]*fx)*fy
}

// Light multiplies by a ramp from lo to hi across the picture at an angle.
func (s *Scene) Light(lo, hi, angle float64) {
	dy, dx := math.Sincos(angle)
	half := (math.Abs(dx)*float64(s.W) + math.Abs(dy)*float64(s.H)) / 2
	for y := range s.H {
		for x := range s.W {
			t := ((float64(x)-float64(s.W)/2)*dx + (float64(y)-float64(s.H)/2)*dy) / half
			s.Pix[y*s.W+x] *= float32(lo + (hi-lo)*(t+1)/2)
		}
	}
}

// Glare adds a saturating spot with soft borders: radii rx, ry in pixels.
func (s *Scene) Glare(c Point, rx, ry, angle, strength float64) {
	sn, cs := math.Sincos(angle)
	for y := range s.H {
		for x := range s.W {
			dx, dy := float64(x)-c.X, float64(y)-c.Y
			u, v := (dx*cs+dy*sn)/rx, (dy*cs-dx*sn)/ry
			if d := u*u + v*v; d < 9 {
				s.Pix[y*s.W+x] += float32(strength * math.Exp(-d*d))
			}
		}
	}
}

// Contrast draws all shades towards mid by a factor.
func (s *Scene) Contrast(factor, mid float32) {
	for i, v := range s.Pix {
		s.Pix[i] = mid + (v-mid)*factor
	}
}

// Noise adds Gaussian noise: a constant part and one that grows with the
// square root of the light.
func (s *Scene) Noise(constant, shot float64) {
	for i, v := range s.Pix {
		sd := constant + shot*math.Sqrt(max(0, float64(v))/255)
		s.Pix[i] = max(0, min(255, v+float32(s.Rand.NormFloat64()*sd)))
	}
}

// Scratch draws n thin light or dark strokes within a box.
func (s *Scene) Scratch(n int, c Point, radius, width float64) {
	for range n {
		shade := float32(20)
		if s.Rand.IntN(3) > 0 {
			shade = 225
		}
		a := s.Rand.Float64() * math.Pi
		dy, dx := math.Sincos(a)
		ox, oy := c.X+(s.Rand.Float64()-0.5)*radius, c.Y+(s.Rand.Float64()-0.5)*radius
		length := radius * (0.3 + 0.7*s.Rand.Float64())
		for t := -length / 2; t < length/2; t += 0.4 {
			for o := -width / 2; o <= width/2; o += 0.4 {
				x, y := int(ox+t*dx-o*dy), int(oy+t*dy+o*dx)
				if x >= 0 && y >= 0 && x < s.W && y < s.H {
					s.Pix[y*s.W+x] = shade
				}
			}
		}
	}
}

// Invert turns dark into light.
func (s *Scene) Invert() {
	for i, v := range s.Pix {
		s.Pix[i] = 255 - v
	}
}

// JPEG compresses the scene at a quality of 1 to 100 and returns the bytes.
func (s *Scene) JPEG(quality int) ([]byte, error) {
	var b bytes.Buffer
	err := jpeg.Encode(&b, gray3(s.Gray()), &jpeg.Options{Quality: quality})
	return b.Bytes(), err
}

// gray3 makes a colour picture of a gray one, since phones write colour.
func gray3(g *image.Gray) image.Image {
	m := image.NewYCbCr(g.Rect, image.YCbCrSubsampleRatio420)
	copy(m.Y, g.Pix)
	for i := range m.Cb {
		m.Cb[i], m.Cr[i] = 128, 128
	}
	return m
}
