//! Photo regions and readings to the colour wanted, with doubt and age.
