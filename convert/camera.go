package convert

// MaxFiducials is how many fiducial marks a frame can report.
const MaxFiducials = 4

// Camera is what an image says beside the row of a meniscus. Rows and marks belong to the same image.
type Camera struct {
	Fiducials [MaxFiducials]Optional[float64] // rows of the fiducial marks, px
	Score     Optional[float64]               // how well the edge was found, as the module scores
	Edges     Optional[float64]               // how many edges were found
	Counter   Optional[float64]               // of images
}
