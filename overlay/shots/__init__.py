"""Where to put the camera: distances, frames, and what stays too small."""
