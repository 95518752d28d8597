package configs

// SignalMembers names the members that hold what is sent in place of a position.
type SignalMembers struct {
	// HighCounts is the path of the signal of the high limb in counts.
	HighCounts string `yaml:"high_counts"`
	// LowCounts is the path of the signal of the low limb in counts.
	LowCounts string `yaml:"low_counts"`
	// HighV is the path of the signal of the high limb in V.
	HighV string `yaml:"high_v"`
	// LowV is the path of the signal of the low limb in V.
	LowV string `yaml:"low_v"`
	// HighMA is the path of the signal of the high limb in mA.
	HighMA string `yaml:"high_ma"`
	// LowMA is the path of the signal of the low limb in mA.
	LowMA string `yaml:"low_ma"`
	// HighDistanceMM is the path of the distance from a sensor above the high limb, in mm.
	HighDistanceMM string `yaml:"high_distance_mm"`
	// LowDistanceMM is the path of the distance from a sensor above the low limb, in mm.
	LowDistanceMM string `yaml:"low_distance_mm"`
	// HighPx is the path of the row of the meniscus in the high limb.
	HighPx string `yaml:"high_px"`
	// LowPx is the path of the row of the meniscus in the low limb.
	LowPx string `yaml:"low_px"`
	// Fiducial1Px is the path of the row of fiducial mark 1.
	Fiducial1Px string `yaml:"fiducial_1_px"`
	// Fiducial2Px is the path of the row of fiducial mark 2.
	Fiducial2Px string `yaml:"fiducial_2_px"`
	// Fiducial3Px is the path of the row of fiducial mark 3.
	Fiducial3Px string `yaml:"fiducial_3_px"`
	// Fiducial4Px is the path of the row of fiducial mark 4.
	Fiducial4Px string `yaml:"fiducial_4_px"`
	// Score is the path of the score of the edge.
	Score string `yaml:"score"`
	// Edges is the path of the number of edges found.
	Edges string `yaml:"edges"`
	// FrameCounter is the path of the counter of images.
	FrameCounter string `yaml:"frame_counter"`
	// Contact is the path of a door contact or the like, 0 or 1.
	Contact string `yaml:"contact"`
}

// SignalRegisters hold what is sent in place of a position.
type SignalRegisters struct {
	// HighCounts holds the signal of the high limb in counts.
	HighCounts *Register `yaml:"high_counts"`
	// LowCounts holds the signal of the low limb in counts.
	LowCounts *Register `yaml:"low_counts"`
	// HighV holds the signal of the high limb in V.
	HighV *Register `yaml:"high_v"`
	// LowV holds the signal of the low limb in V.
	LowV *Register `yaml:"low_v"`
	// HighMA holds the signal of the high limb in mA.
	HighMA *Register `yaml:"high_ma"`
	// LowMA holds the signal of the low limb in mA.
	LowMA *Register `yaml:"low_ma"`
	// HighDistanceMM holds the distance from a sensor above the high limb, in mm.
	HighDistanceMM *Register `yaml:"high_distance_mm"`
	// LowDistanceMM holds the distance from a sensor above the low limb, in mm.
	LowDistanceMM *Register `yaml:"low_distance_mm"`
	// HighPx holds the row of the meniscus in the high limb.
	HighPx *Register `yaml:"high_px"`
	// LowPx holds the row of the meniscus in the low limb.
	LowPx *Register `yaml:"low_px"`
	// Fiducial1Px holds the row of fiducial mark 1.
	Fiducial1Px *Register `yaml:"fiducial_1_px"`
	// Fiducial2Px holds the row of fiducial mark 2.
	Fiducial2Px *Register `yaml:"fiducial_2_px"`
	// Fiducial3Px holds the row of fiducial mark 3.
	Fiducial3Px *Register `yaml:"fiducial_3_px"`
	// Fiducial4Px holds the row of fiducial mark 4.
	Fiducial4Px *Register `yaml:"fiducial_4_px"`
	// Score holds the score of the edge.
	Score *Register `yaml:"score"`
	// Edges holds the number of edges found.
	Edges *Register `yaml:"edges"`
	// FrameCounter holds the counter of images.
	FrameCounter *Register `yaml:"frame_counter"`
	// Contact holds a door contact or the like, 0 or 1.
	Contact *Register `yaml:"contact"`
}
