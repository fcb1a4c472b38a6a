//! Edges, known sizes and cameras to axis pose and meridian with covariance.
