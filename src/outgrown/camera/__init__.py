"""Camera: references in the photo, and the pose that turns pixels into millimetres."""
