//! Observers, lights, spectra, Lab, CIEDE2000, CAM16, adaptation.
