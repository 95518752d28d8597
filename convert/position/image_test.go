package position

import (
	"math"
	"math/rand/v2"
	"testing"

	"manobridge/convert"
	"manobridge/convert/quantity"

	"pgregory.net/rapid"
)

// pinhole is a camera of its own equations, none of them the package's: it stands away from the tube in a plane with it,
// turned by pitch, with a focal length in px. A point at height x on the tube, seen from the camera, has the direction
// (away, x − height); turned into the frame of the camera, its row is center − focal·up/along.
type pinhole struct{ away, height, pitch, focal, center float64 }

func (c pinhole) row(x float64) float64 {
	up, along := x-c.height, c.away
	sin, cos := math.Sincos(c.pitch)
	return c.center - c.focal*(up*cos-along*sin)/(along*cos+up*sin)
}

func mm(v ...float64) (out []quantity.Length) {
	for _, one := range v {
		out = append(out, quantity.Millimetres(one))
	}
	return out
}

func image(t testing.TB, o ImageOptions) *Image {
	t.Helper()
	m, err := NewImage(o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func rows(r ...float64) *convert.Camera {
	c := &convert.Camera{}
	for i, row := range r {
		c.Fiducials[i] = convert.Some(row)
	}
	return c
}

// Through a known camera, askew, shifted and zoomed anew in every trial, with noise in every row and in every mark, the
// position lies within U (k = 2, 95.45 %) as often as U says, and is not biased.
func TestCameraIsFollowed(t *testing.T) {
	const trials, rowU, markRowU, markU = 2000, 0.4, 0.25, 0.05e-3
	for _, c := range []struct {
		name  string
		marks []float64 // mm
		pitch float64   // rad, up to
	}{
		{"two marks, square on", []float64{20, 280}, 0},
		{"three marks, askew", []float64{20, 150, 280}, 0.15},
		{"four marks, askew", []float64{10, 110, 190, 290}, 0.15},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(7, uint64(len(c.marks))))
			m := image(t, ImageOptions{Fiducials: mm(c.marks...), FiducialU: markU, MarkRowU: markRowU, RowU: rowU})
			within, n, bias, scatter := 0, 0, 0.0, 0.0
			for range trials {
				camera := pinhole{away: 0.5 + 0.2*r.Float64(), height: 0.15 + 0.06*(r.Float64()-0.5), pitch: c.pitch * (2*r.Float64() - 1),
					focal: 1500 + 400*r.Float64(), center: 2540 + 80*(r.Float64()-0.5)}
				var seen []float64
				for _, at := range c.marks {
					seen = append(seen, camera.row(at/1000+markU*r.NormFloat64())+markRowU*r.NormFloat64())
				}
				truth := 0.03 + 0.24*r.Float64()
				at, extra, _, refusal := m.Position("low-limb", camera.row(truth)+rowU*r.NormFloat64(), rows(seen...))
				if refusal != nil {
					if refusal.Code == convert.FiducialsDisagree {
						continue // by chance, one in 16 000
					}
					t.Fatal(refusal)
				}
				n++
				off := float64(at) - truth
				bias += off
				scatter += float64(extra.U)
				if math.Abs(off) <= 2*float64(extra.U) {
					within++
				}
			}
			if n < trials-3 {
				t.Errorf("%d of %d images were refused", trials-n, trials)
			}
			share, u := float64(within)/float64(n), scatter/float64(n)
			t.Logf("%.2f %% within U, bias %.2g of u %.3g mm", 100*share, bias/float64(n)/u, u*1000)
			if share < 0.93 || share > 0.975 {
				t.Errorf("got %.2f %% within U, want 95.45 %% (93 to 97.5)", 100*share)
			}
			// The mean of 2000 scatters by u/45.
			if b := math.Abs(bias) / float64(n) / u; b > 0.1 {
				t.Errorf("got a bias of %.3f u, want less than 0.1", b)
			}
		})
	}
}

// Without noise the camera is taken out altogether: wherever it stands and however it zooms, the position is the same.
func TestShiftZoomAndTurnChangeNothing(t *testing.T) {
	for _, marks := range [][]float64{{20, 280}, {20, 150, 280}, {10, 110, 190, 290}} {
		rapid.Check(t, func(t *rapid.T) {
			m, err := NewImage(ImageOptions{Fiducials: mm(marks...), FiducialU: 1e-5, MarkRowU: 0.2})
			if err != nil {
				t.Fatal(err)
			}
			camera := pinhole{away: rapid.Float64Range(0.4, 2).Draw(t, "away"), height: rapid.Float64Range(0, 0.3).Draw(t, "height"),
				focal: rapid.Float64Range(500, 5000).Draw(t, "focal"), center: rapid.Float64Range(4000, 6000).Draw(t, "center")}
			if len(marks) > 2 {
				camera.pitch = rapid.Float64Range(-0.1, 0.1).Draw(t, "pitch")
			}
			truth := rapid.Float64Range(0.02, 0.28).Draw(t, "truth")
			var seen []float64
			for _, at := range marks {
				seen = append(seen, camera.row(at/1000))
			}
			if len(marks) > 2 && rapid.Bool().Draw(t, "upside down") {
				for i := range seen {
					seen[i] = 10000 - seen[i]
				}
				camera.center, camera.focal = 10000-camera.center, -camera.focal
			}
			at, _, _, refusal := m.Position("low-limb", camera.row(truth), rows(seen...))
			if refusal != nil || math.Abs(float64(at)-truth) > 1e-9 {
				t.Fatalf("got %v m, %v, want %v m ± 1e-9", float64(at), refusal, truth)
			}
		})
	}
}

// What an image says against itself refuses it, each thing by its own cause.
func TestImagesThatAreNotBelieved(t *testing.T) {
	m := image(t, ImageOptions{Fiducials: mm(10, 110, 190, 290), FiducialU: 0.05e-3, MarkRowU: 0.3, RowU: 0.5,
		MinScore: convert.Some(60.0)})
	camera := pinhole{away: 0.6, height: 0.15, pitch: 0.1, focal: 1800, center: 2540}
	good := func() *convert.Camera {
		c := rows(camera.row(0.01), camera.row(0.11), camera.row(0.19), camera.row(0.29))
		c.Score, c.Edges, c.Counter = convert.Some(88.0), convert.Some(1.0), convert.Some(7.0)
		return c
	}
	lose := func(which ...int) func(*convert.Camera) {
		return func(c *convert.Camera) {
			for _, i := range which {
				c.Fiducials[i] = convert.Optional[float64]{}
			}
		}
	}
	for _, c := range []struct {
		name string
		do   func(*convert.Camera)
		at   float64
		want convert.Cause
		note convert.Cause
	}{
		{"all well", func(*convert.Camera) {}, 0.2, "", ""},
		{"one mark lost", lose(1), 0.2, "", convert.FiducialLost},
		{"one mark at row −1", func(c *convert.Camera) { c.Fiducials[1] = convert.Some(-1.0) }, 0.2, "", convert.FiducialLost},
		{"the mark nearest to the top at row 0", func(c *convert.Camera) { c.Fiducials[3] = convert.Some(0.0) }, 0.15, "", convert.FiducialLost},
		{"two marks at row 0", func(c *convert.Camera) { c.Fiducials[1], c.Fiducials[3] = convert.Some(0.0), convert.Some(0.0) }, 0.15, convert.FiducialsFew, ""},
		{"two marks lost", lose(1, 2), 0.2, convert.FiducialsFew, ""},
		{"an end mark lost, meniscus past the others", lose(3), 0.25, convert.SignalOffPoints, ""},
		{"a mark moved by 1 mm", func(c *convert.Camera) { c.Fiducials[2] = convert.Some(camera.row(0.191)) }, 0.2, convert.FiducialsDisagree, ""},
		{"two marks swapped", func(c *convert.Camera) { c.Fiducials[1], c.Fiducials[2] = c.Fiducials[2], c.Fiducials[1] }, 0.2, convert.FiducialsDisagree, ""},
		{"two marks in one row", func(c *convert.Camera) { c.Fiducials[1] = c.Fiducials[2] }, 0.2, convert.FiducialsDisagree, ""},
		{"a low score", func(c *convert.Camera) { c.Score.V = 59 }, 0.2, convert.ScoreLow, ""},
		{"no score", func(c *convert.Camera) { c.Score.Set = false }, 0.2, convert.ScoreLow, ""},
		{"three edges", func(c *convert.Camera) { c.Edges.V = 3 }, 0.2, convert.EdgesNotOne, ""},
		{"no edge", func(c *convert.Camera) { c.Edges.V = 0 }, 0.2, convert.EdgesNotOne, ""},
		{"a meniscus past the marks", func(*convert.Camera) {}, 0.3, convert.SignalOffPoints, ""},
	} {
		view := good()
		c.do(view)
		at, _, note, refusal := m.Position("low-limb", camera.row(c.at), view)
		if got := code(refusal); got != c.want {
			t.Errorf("%s: got %q (%v), want %q", c.name, got, refusal, c.want)
		}
		if got := code(note); got != c.note {
			t.Errorf("%s: got note %q, want %q", c.name, got, c.note)
		}
		if refusal == nil && math.Abs(float64(at)-c.at) > 1e-9 {
			t.Errorf("%s: got %v m, want %v m", c.name, float64(at), c.at)
		}
	}
	if _, _, _, refusal := m.Position("low-limb", 400, nil); code(refusal) != convert.FiducialsFew {
		t.Errorf("without a camera: got %v", refusal)
	}
}

func code(r *convert.Refusal) convert.Cause {
	if r == nil {
		return ""
	}
	return r.Code
}

// With three marks none is spare: a shift and a zoom through two of them would leave out that the camera looks askew.
func TestNoneOfThreeMarksIsSpare(t *testing.T) {
	m := image(t, ImageOptions{Fiducials: mm(20, 150, 280), FiducialU: 0.05e-3})
	view := rows(900, 500, 100)
	view.Fiducials[1].Set = false
	if _, _, _, refusal := m.Position("low-limb", 400, view); code(refusal) != convert.FiducialsFew {
		t.Errorf("got %v, want %v", refusal, convert.FiducialsFew)
	}
}

// Worked by hand: marks at 0 and 200 mm in rows 900 and 100, so 0.25 mm per row; row 500 is 100 mm. There each mark has
// half the weight: u² = (0.05² + (0.25·0.4)²)·(¼ + ¼) + (0.25·0.8)² + 0.03² in mm².
func TestTwoMarksByHand(t *testing.T) {
	m := image(t, ImageOptions{Fiducials: mm(0, 200), FiducialU: 0.05e-3, MarkRowU: 0.4, RowU: 0.8, Offset: 0.7e-3, OffsetU: 0.03e-3})
	at, extra, _, refusal := m.Position("low-limb", 500, rows(900, 100))
	if refusal != nil || math.Abs(at.Millimetres()-100.7) > 1e-9 {
		t.Errorf("got %v mm, %v, want 100.7 mm, the offset added", at.Millimetres(), refusal)
	}
	want := math.Sqrt((0.05*0.05+0.1*0.1)/2 + 0.2*0.2 + 0.03*0.03)
	if got := extra.U.Millimetres(); math.Abs(got-want) > 1e-9 {
		t.Errorf("got u %v mm, want %v mm ± 1e-9", got, want)
	}
}

func TestImagesThatCannotBe(t *testing.T) {
	for name, o := range map[string]ImageOptions{
		"one mark":           {Fiducials: mm(1), FiducialU: 1},
		"five marks":         {Fiducials: mm(1, 2, 3, 4, 5), FiducialU: 1},
		"two in one place":   {Fiducials: mm(1, 2, 1), FiducialU: 1},
		"no uncertainty":     {Fiducials: mm(1, 2)},
		"negative":           {Fiducials: mm(1, 2), FiducialU: -1},
		"offset u no number": {Fiducials: mm(1, 2), FiducialU: 1, OffsetU: quantity.Length(math.NaN())},
	} {
		if _, err := NewImage(o); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}
