//! Sample chips to colourants' optics; recipes; what to mix next; cure depth.
