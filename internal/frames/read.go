package frames

// Read decodes the frame's first image into im, reusing its buffers. Overscan
// that the header marks is trimmed. The error is of the same kinds as
// Frame.Err.
func (f *Frame) Read(im *Image) error {
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close()
	im.Width, im.Height, im.Planes = r.Width, r.Height, r.Planes
	return r.fill(im, r.rows())
}
