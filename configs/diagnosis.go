package configs

import "time"

// Diagnosis is what an instrument is held against when it is looked at for longer than one reading. What is usual for it, its
// noise and how long it stands still, is learned.
type Diagnosis struct {
	// PulsationPa is how much the pressure may scatter within half a minute, as a standard deviation in Pa. Left out: not
	// judged.
	PulsationPa float64 `yaml:"pulsation_pa" range:"(0,100000]"`
	// SoakKPerH is how fast the liquid's temperature may change, in K per hour.
	SoakKPerH float64 `yaml:"soak_k_per_h" range:"(0,1000]"`
	// LevelWithinDeg is how far the base may stand off where it stood at the zero, in degrees, where a channel gives the tilt.
	LevelWithinDeg float64 `yaml:"level_within_deg" range:"(0,10]"`
	// CalibrationDue is the day from which the calibration is overdue, as 2026-03-01.
	CalibrationDue Date `yaml:"calibration_due"`
	// Settle is for how long after a start, or after its line was gone, the instrument is not believed. Left out: it is at
	// once.
	Settle Duration `yaml:"settle" range:"[1s,24h]"`
}

func (d *Diagnosis) setDefaults() {
	d.SoakKPerH = 6
	d.LevelWithinDeg = 0.2
}

// Due is the moment from which the calibration is overdue; zero where no day is stated.
func (d *Diagnosis) Due() time.Time { return d.CalibrationDue.Time }
