package frame_test

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

func TestLineEnds(t *testing.T) {
	for _, end := range []string{"\n", "\r", "\r\n", "\n\r", "\r\r\n"} {
		frames := decode(decoder(t, bench), "02,1.5,21"+end+"03,2.5,22"+end)
		if len(frames) != 2 || string(frames[0].Raw) != "02,1.5,21" || string(frames[1].Raw) != "03,2.5,22" {
			t.Errorf("line end %q: got %d frames: %+v, want the two sent", end, len(frames), frames)
		}
	}
}

func TestFirstPartialLineIsPassedOver(t *testing.T) {
	d := decoder(t, bench)
	frames := feed(d, "2,10.5,21.0\r\n02,111.0,21.0\r\n", 0)
	if len(frames) != 1 || string(frames[0].Raw) != "02,111.0,21.0" {
		t.Errorf("got %+v, want only the second line", frames)
	}
	if got := d.PassedOver(); got != 12 {
		t.Errorf("passed over: got %d bytes, want 12", got)
	}
}

func TestResetForgetsTheUnfinishedFrame(t *testing.T) {
	d := decoder(t, bench)
	decode(d, "02,110.5,21.0\n02,11")
	if lost := d.Reset(); lost != 5 {
		t.Errorf("lost: got %d bytes, want 5", lost)
	}
	frames := feed(d, "1.0,21.0\n02,112.0,21.0\n", 0)
	if len(frames) != 1 || string(frames[0].Raw) != "02,112.0,21.0" {
		t.Errorf("got %+v, want only the whole line after", frames)
	}
}

func TestStampIsThatOfTheFirstByte(t *testing.T) {
	d := decoder(t, bench)
	feed(d, "\r", 0)
	var got []frame.Frame
	for i, piece := range []string{"\n", "0", "2,110.5,", "21.0\r", "\n03,1.5,2", "2\r\n"} {
		got = append(got, feed(d, piece, time.Duration(i+1)*100*time.Millisecond)...)
	}
	if len(got) != 2 || got[0].At.Mono != 200*time.Millisecond || got[1].At.Mono != 500*time.Millisecond {
		t.Fatalf("got %+v, want frames of 200 ms and 500 ms", got)
	}
}

func TestPauseInsideAFrame(t *testing.T) {
	single := frame.Options{Format: "delimited", Separator: ",", Fields: []string{"low_mm"}}
	d := decoder(t, single)
	feed(d, "\n11", 0)
	frames := feed(d, "1.5\n2.5\n", 3*time.Second)
	if len(frames) != 2 || frames[0].Refusal == nil || frames[0].Refusal.Code != convert.FrameFormat || frames[0].At.Mono != 0 {
		t.Fatalf("got %+v, want the first refused: 11 and 1.5 must not become 111.5", frames)
	}
	if frames[1].Refusal != nil || frames[1].Low.V.Millimetres() != 2.5 {
		t.Errorf("the frame after: got %+v, want 2.5 mm", frames[1])
	}

	d = decoder(t, bench)
	feed(d, "\n02,11", 0)
	if frames := feed(d, "02,111.0,21.0\n", 5*time.Second); len(frames) != 1 || frames[0].Refusal == nil || string(frames[0].Address) != "02" {
		t.Errorf("got %+v, want one refusal attributed to 02", frames)
	}
	feed(d, "0", 6*time.Second)
	if frames := feed(d, "2,111.0,21.0\n", 9*time.Second); len(frames) != 1 || frames[0].Refusal == nil || frames[0].Addressed {
		t.Errorf("got %+v, want one refusal attributed to nobody", frames)
	}
}

func TestNoLineEnd(t *testing.T) {
	for _, joined := range []bool{true, false} {
		d := decoder(t, bench)
		if joined {
			feed(d, "\n", 0)
		}
		var frames []frame.Frame
		for range 20 {
			frames = append(frames, feed(d, strings.Repeat("7", 512), 0)...)
		}
		frames = append(frames, feed(d, "\n02,110.5,21.0\n", 0)...)
		if len(frames) != 2 || frames[0].Refusal == nil || frames[0].Refusal.Code != convert.FrameOverlong || len(frames[0].Raw) != 512 || frames[0].Addressed {
			t.Fatalf("joined %v: got %d frames, want one refusal for all ten kilobytes and the good frame", joined, len(frames))
		}
		if frames[1].Refusal != nil {
			t.Errorf("the frame after: %v", frames[1].Refusal)
		}
	}
}

func TestLongestFrame(t *testing.T) {
	o := frame.Options{Format: "delimited", Separator: ",", Fields: []string{"low_mm", "skip"}}
	fits := "1.5," + strings.Repeat("x", 508)
	if f := one(t, o, fits+"\n"); f.Refusal != nil {
		t.Errorf("512 bytes: %v", f.Refusal)
	}
	if f := one(t, o, fits+"x\n"); f.Refusal == nil || f.Refusal.Code != convert.FrameOverlong {
		t.Errorf("513 bytes: got %v, want a refusal", f.Refusal)
	}
}

// However the line is cut into reads, the frames are the same.
func TestCutsDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := "\n" + strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{
			"02,110.5,21.0\r\n", "03,20,OVER\n", "rubbish\r", "\x00\xff\x80", strings.Repeat("z", 600), "\r\n", "02,1,2,3\n", "04,5.25 mm,20\r\n",
		}), 1, 12).Draw(t, "parts"), "")
		whole, err := frame.New(bench)
		if err != nil {
			t.Fatal(err)
		}
		want := feed(whole, text, 0)
		cut, err := frame.New(bench)
		if err != nil {
			t.Fatal(err)
		}
		var got []frame.Frame
		for rest := text; rest != ""; {
			n := rapid.IntRange(1, len(rest)).Draw(t, "cut")
			got = append(got, feed(cut, rest[:n], 0)...)
			rest = rest[n:]
		}
		if len(got) != len(want) {
			t.Fatalf("got %d frames, want %d", len(got), len(want))
		}
		for i := range got {
			if !bytes.Equal(got[i].Raw, want[i].Raw) || fmt.Sprint(got[i].Refusal) != fmt.Sprint(want[i].Refusal) || got[i].Low != want[i].Low {
				t.Fatalf("frame %d: got %+v, want %+v", i, got[i], want[i])
			}
		}
	})
}

func TestStatedTerminator(t *testing.T) {
	fields := []string{"low_mm", "skip"}
	for _, tt := range []struct {
		terminator, text string
		want             []string // raw; a refused one with its code in front
	}{
		{"lf", "x\n1,a\n2,b\rc\n\n3,d\n", []string{"1,a", "2,b\rc", "3,d"}},
		{"cr", "x\r1,a\r\r2,b\r", []string{"1,a", "2,b"}},
		{"cr", "x\r1,a\r\n2,b\r", []string{"1,a", "frame-number \n2,b"}},
		{"crlf", "x\r\n1,a\r\n2,b\nc\rd\r\n\r\n3,e\r\n", []string{"1,a", "2,b\nc\rd", "3,e"}},
		{"crlf", "x\r\n1," + strings.Repeat("y", 510) + "\r\n2,b\r\n", []string{"1," + strings.Repeat("y", 510), "2,b"}},
		{"crlf", "x\r\n1," + strings.Repeat("y", 511) + "\r\n2,b\r\n", []string{"frame-overlong 1," + strings.Repeat("y", 510), "2,b"}},
	} {
		for _, size := range []int{1, 3, 4096} {
			d := decoder(t, frame.Options{Format: "delimited", Separator: ",", Fields: fields, Terminator: tt.terminator})
			var got []string
			for rest := tt.text; rest != ""; {
				n := min(size, len(rest))
				for _, f := range feed(d, rest[:n], 0) {
					text := string(f.Raw)
					if f.Refusal != nil {
						text = string(f.Refusal.Code) + " " + text
					}
					got = append(got, text)
				}
				rest = rest[n:]
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("%s, %q in pieces of %d: got %q, want %q", tt.terminator, tt.text, size, got, tt.want)
			}
		}
	}
}

// Headers are passed over only after an opening, only as many as stated, and never a line that reads as a frame.
func TestHeaderLines(t *testing.T) {
	o := bench
	o.HeaderLines = 2
	const text = "tail\nLevel reader\nchannel, mm, C\nthird\n02,1,21\nfourth\n"
	d := decoder(t, o)
	frames := feed(d, text, 0)
	if len(frames) != 3 || string(frames[0].Raw) != "third" || frames[1].Refusal != nil || string(frames[2].Raw) != "fourth" {
		t.Fatalf("got %+v, want the third line refused, a frame, the last line refused", frames)
	}
	if got, want := d.PassedOver(), uint64(len("tail\nLevel readerchannel, mm, C")); got != want {
		t.Errorf("passed over: got %d bytes, want %d", got, want)
	}
	if frames := feed(d, "Level reader\n", 0); len(frames) != 1 {
		t.Errorf("later: got %+v, want the header refused", frames)
	}
	d.Reset()
	if frames := feed(d, "\n02,1,21\nLevel reader\n", 0); len(frames) != 2 || frames[1].Refusal == nil {
		t.Errorf("after reopening: got %+v, want a frame at once and then a refusal", frames)
	}
}
