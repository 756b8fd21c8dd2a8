package main

import (
	"image"
	"math"
	"math/rand/v2"

	"lotbook/scanner/picture/internal/camera"
)

// spoilings are the degradations of the single symbols, one each.
var spoilings = []string{
	"clean", "rotate", "tilt", "rotate+tilt", "blur", "motion", "lowlight", "contrast", "glare", "cylinder",
	"jpeg", "small", "shade", "clutter", "invert", "scratch",
}

// single makes a picture of one symbol with one degradation; quality is 0 for
// a PNG.
func single(r *rand.Rand, art image.Image, how string) (s *camera.Scene, quality int) {
	b := art.Bounds()
	w, h := float64(b.Dx())/artScale, float64(b.Dy())/artScale // modules
	linear := w > 90
	m := 3 + 2.5*r.Float64()
	if linear {
		m = 2 + 1.5*r.Float64()
	}
	p := camera.Pose{Module: m, Dark: 30 + 30*r.Float32(), Light: 195 + 40*r.Float32(), Plain: 4}
	switch how {
	case "rotate":
		p.Rotation = 2 * math.Pi * r.Float64()
	case "tilt":
		p.TiltX, p.TiltY = (r.Float64()-0.5)*1.5, (r.Float64()-0.5)*1.5
	case "rotate+tilt":
		p.Rotation = 2 * math.Pi * r.Float64()
		p.TiltX, p.TiltY = (r.Float64()-0.5)*1.2, (r.Float64()-0.5)*1.2
	case "small":
		p.Module = 1.3 + 1.0*r.Float64()
		if linear {
			p.Module = 0.9 + 0.7*r.Float64()
		}
		p.Rotation = (r.Float64() - 0.5) * 0.3
	case "cylinder":
		p.Cylinder = 0.4 + 0.7*r.Float64()
		p.Upright = r.IntN(2) == 0
		p.Rotation = (r.Float64() - 0.5) * 0.4
	default:
		p.Rotation = (r.Float64() - 0.5) * 0.2
	}
	if w < 60 && p.Distance == 0 {
		p.Distance = 2.5 + 3*r.Float64()
	}
	size := math.Hypot(w, h)*p.Module + 60
	width, height := int(size*(1+0.5*r.Float64())), int(size*(0.9+0.4*r.Float64()))
	p.Centre = camera.Point{X: float64(width)/2 + (r.Float64()-0.5)*20, Y: float64(height)/2 + (r.Float64()-0.5)*20}
	s = camera.NewScene(width, height, 120+100*r.Float32(), r)
	if how == "clutter" {
		s.Clutter(10, 14)
	}
	s.Place(art, artScale, p)
	if how != "clean" {
		s.Blur(0.5)
	}
	noise := 2.0
	switch how {
	case "blur":
		s.Blur(p.Module * (0.45 + 0.5*r.Float64()))
	case "motion":
		s.Motion(p.Module*(1+1.6*r.Float64()), math.Pi*r.Float64())
	case "lowlight":
		s.Contrast(0.12+0.3*r.Float32(), 12)
		noise = 4 + 5*r.Float64()
	case "contrast":
		s.Contrast(0.08+0.2*r.Float32(), 100+80*r.Float32())
	case "glare":
		c := camera.Point{X: p.Centre.X + (r.Float64()-0.5)*w*p.Module*0.8, Y: p.Centre.Y + (r.Float64()-0.5)*h*p.Module*0.8}
		g := min(w, h) * p.Module
		s.Glare(c, g*(0.1+0.2*r.Float64()), g*(0.2+0.3*r.Float64()), math.Pi*r.Float64(), 250)
	case "jpeg":
		quality = 4 + r.IntN(20)
	case "shade":
		s.Light(0.15+0.15*r.Float64(), 1.1, 2*math.Pi*r.Float64())
	case "invert":
		s.Invert()
	case "scratch":
		s.Scratch(3+r.IntN(5), p.Centre, max(w, h)*p.Module, 1+p.Module*0.6*r.Float64())
	}
	if how != "clean" {
		s.Noise(noise, noise/2)
	}
	return s, quality
}

// scene makes a picture of a pack with one to three symbols, none over
// another; it returns which of the art was placed.
func scene(r *rand.Rand, width, height int, art []image.Image) (s *camera.Scene, placed []int) {
	s = camera.NewScene(width, height, 90+140*r.Float32(), r)
	s.Clutter(12, 30)
	s.Grain(3)
	zoom := math.Sqrt(float64(width*height) / (1600 * 1200))
	type disc struct {
		c camera.Point
		r float64
	}
	var taken []disc
	for i, a := range art {
		b := a.Bounds()
		w, h := float64(b.Dx())/artScale, float64(b.Dy())/artScale
		for range 40 {
			m := (2.2 + 3.5*r.Float64()) * math.Sqrt(zoom)
			if w > 90 {
				m = (1.5 + 1.6*r.Float64()) * math.Sqrt(zoom)
			}
			rad := math.Hypot(w, h)/2*m + 4*m
			if 2*rad > float64(min(width, height)) {
				continue
			}
			c := camera.Point{X: rad + r.Float64()*(float64(width)-2*rad), Y: rad + r.Float64()*(float64(height)-2*rad)}
			free := true
			for _, d := range taken {
				free = free && math.Hypot(c.X-d.c.X, c.Y-d.c.Y) > rad+d.r
			}
			if !free {
				continue
			}
			p := camera.Pose{
				Centre: c, Module: m, Rotation: 2 * math.Pi * r.Float64(),
				TiltX: (r.Float64() - 0.5) * 0.9, TiltY: (r.Float64() - 0.5) * 0.9, Distance: 3 + 4*r.Float64(),
				Dark: 25 + 50*r.Float32(), Light: 175 + 60*r.Float32(), Plain: 1.5,
			}
			if r.IntN(5) == 0 {
				p.Cylinder, p.Upright = 0.2+0.5*r.Float64(), r.IntN(2) == 0
			}
			s.Place(a, artScale, p)
			taken = append(taken, disc{c, rad})
			placed = append(placed, i)
			break
		}
	}
	s.Light(0.5+0.5*r.Float64(), 1.05, 2*math.Pi*r.Float64())
	if r.IntN(4) == 0 {
		c := camera.Point{X: float64(width) * r.Float64(), Y: float64(height) * r.Float64()}
		s.Glare(c, 60*zoom, 100*zoom, math.Pi*r.Float64(), 200)
	}
	s.Blur(0.5 + 1.0*r.Float64()*math.Sqrt(zoom))
	if r.IntN(4) == 0 {
		s.Motion(2+2*r.Float64(), math.Pi*r.Float64())
	}
	s.Noise(1+4*r.Float64(), 3*r.Float64())
	return s, placed
}
