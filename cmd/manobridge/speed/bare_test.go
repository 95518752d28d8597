package speed

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"path/filepath"
	"sync"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	influx "github.com/influxdata/influxdb-client-go/v2"
	"github.com/influxdata/influxdb-client-go/v2/api/write"
	_ "modernc.org/sqlite" // the driver

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
)

// load is what the bare clients carry: the results the bridge makes of the same frames, worked out before the clock starts.
type load struct {
	results  []convert.Result
	topics   []string
	payloads [][]byte
}

// loadOf makes n results.
func (h *hall) loadOf(b *testing.B, n int) *load {
	b.Helper()
	c, err := configs.Parse("bench.yaml", []byte(h.config(h.plug(b))), configs.Options{HostName: "bench"})
	if err != nil {
		b.Fatal(err)
	}
	x := &load{results: make([]convert.Result, n), topics: make([]string, n), payloads: make([][]byte, n)}
	converters := make([]*convert.Converter, h.instruments)
	sets := make([]assemble.Set, h.instruments)
	for i := range converters {
		if converters[i], err = assemble.Converter(c, &c.Instruments[i]); err != nil {
			b.Fatal(err)
		}
		if sets[i], err = assemble.CoefficientSet(c, &c.Instruments[i]); err != nil {
			b.Fatal(err)
		}
	}
	start := time.Now().UTC()
	for k := range n {
		i := k % h.instruments
		low, temperature := position(k)
		since := time.Duration(k) * 10 * time.Microsecond
		r := converters[i].Convert(convert.Reading{
			Name:       convert.Name{Run: "bare", Instrument: name(i), Seq: uint64(k/h.instruments + 1)},
			ReceivedAt: start.Add(since), SinceStart: since, Frame: frame(nil, i, k),
			Low: convert.Some(quantity.Millimetres(low)), Temperature: convert.Some(quantity.Celsius(temperature)),
		})
		if _, ok := r.Pressure(); !ok {
			b.Fatalf("reading %d: %v", k, r.Refusal)
		}
		r.Config = sets[i].Hash
		x.results[k] = r
		m := publish.NewMessage("test-hall", &r)
		x.topics[k], x.payloads[k] = "bare/test-hall/"+name(i)+"/pressure", m.Append(nil)
	}
	return x
}

// dialled is a connected client of the library.
func dialled(b *testing.B, addr, id string, with ...func(*paho.ClientOptions)) paho.Client {
	b.Helper()
	o := paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID(id).SetProtocolVersion(4).SetAutoReconnect(false)
	for _, f := range with {
		f(o)
	}
	c := paho.NewClient(o)
	token := c.Connect()
	if token.Wait(); token.Error() != nil {
		b.Fatal(token.Error())
	}
	return c
}

// publishAll publishes n messages at quality of service 1 with a window of 256, the fastest that the client is good for,
// and waits until all are acknowledged. Messages are used again from the first on where there are fewer.
func (x *load) publishAll(b *testing.B, addr string, n int) {
	const window = 256
	c := dialled(b, addr, "bare")
	defer c.Disconnect(250)
	var tokens [window]paho.Token
	for k := range n + window {
		if t := tokens[k%window]; t != nil {
			if t.Wait(); t.Error() != nil {
				b.Error(t.Error())
				return
			}
			tokens[k%window] = nil
		}
		if k < n {
			tokens[k%window] = c.Publish(x.topics[k%len(x.topics)], 1, false, x.payloads[k%len(x.payloads)])
		}
	}
}

// writeAll writes the results to the store in requests of 5000 points, as the client's makers advise.
func (x *load) writeAll(b *testing.B, addr string) {
	client := influx.NewClientWithOptions("http://"+addr, "", influx.DefaultOptions().SetUseGZip(true).SetPrecision(time.Nanosecond).SetLogLevel(0))
	defer client.Close()
	api := client.WriteAPIBlocking("", "bare")
	const batch = 5000
	for from := 0; from < len(x.results); from += batch {
		points := make([]*write.Point, 0, batch)
		for k := from; k < min(len(x.results), from+batch); k++ {
			r := &x.results[k]
			pa, _ := r.Pressure()
			points = append(points, write.NewPointWithMeasurement("manometer").SetTime(r.ReceivedAt).
				AddTag("instrument", r.Instrument).AddTag("site", "test-hall").
				AddField("differential_pressure_pa", pa).AddField("expanded_uncertainty_pa", r.ExpandedU).
				AddField("head_mm", r.Head.V.Millimetres()).AddField("seq", float64(r.Seq)).
				AddField("status_code", float64(r.StatusCode)).AddField("temperature_c", r.Temperature.V.Celsius()))
		}
		if err := api.WritePoint(context.Background(), points...); err != nil {
			b.Error(err)
			return
		}
	}
}

// insertAll inserts what the journal keeps of the results, 1000 rows a commit, each commit flushed to the disk.
func (x *load) insertAll(b *testing.B) {
	ctx := context.Background()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(b.TempDir(), "bare.db")+"?_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_txlock=immediate")
	if err != nil {
		b.Error(err)
		return
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err := db.ExecContext(ctx, `CREATE TABLE reading (id INTEGER PRIMARY KEY AUTOINCREMENT, stream INTEGER, seq INTEGER, wall_ns INTEGER,
		skew_ns INTEGER, frame BLOB, low REAL, temperature REAL, kind INTEGER, pressure REAL, combined_u REAL, coverage_factor REAL,
		effective_dof REAL, head REAL, word INTEGER, status_code INTEGER, config INTEGER) STRICT`); err != nil {
		b.Error(err)
		return
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		b.Error(err)
		return
	}
	defer conn.Close()
	insert, err := conn.PrepareContext(ctx, `INSERT INTO reading (stream, seq, wall_ns, skew_ns, frame, low, temperature, kind, pressure,
		combined_u, coverage_factor, effective_dof, head, word, status_code, config) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)`)
	if err != nil {
		b.Error(err)
		return
	}
	defer insert.Close()
	exec := func(text string) bool {
		_, err := conn.ExecContext(ctx, text)
		if err != nil {
			b.Error(err)
		}
		return err == nil
	}
	const batch = 1000
	for from := 0; from < len(x.results); from += batch {
		if !exec("BEGIN IMMEDIATE") {
			return
		}
		for k := from; k < min(len(x.results), from+batch); k++ {
			r := &x.results[k]
			pa, _ := r.Pressure()
			var dof any
			if !math.IsInf(r.EffectiveDOF, 0) {
				dof = r.EffectiveDOF
			}
			if _, err := insert.ExecContext(ctx, 1, int64(r.Seq), r.ReceivedAt.UnixNano(), int64(r.SinceStart), r.Frame, float64(r.Low.V),
				float64(r.Temperature.V), int64(r.Kind), pa, r.CombinedU, r.CoverageFactor, dof, float64(r.Head.V), int64(r.Status),
				int64(r.StatusCode), 1); err != nil {
				b.Error(fmt.Errorf("insert: %w", err))
				return
			}
		}
		if !exec("COMMIT") {
			return
		}
	}
}

// together runs the loops at the same time and gives how long it took until the last had ended.
func together(loops ...func()) time.Duration {
	began := time.Now()
	var all sync.WaitGroup
	for _, f := range loops {
		all.Go(f)
	}
	all.Wait()
	return time.Since(began)
}
