//! Results to the job sheet: HTML, SVG pictures, PDF.
