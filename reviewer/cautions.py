"""The one line of caution wherever head contact or an injury is touched."""

CAUTION = (
    "Grades describe technique only. Head or helmet contact: see your league's rule book. Any sign of "
    "concussion: out at once, no return that day, back only when a health care provider clears it; ask "
    "your athletic trainer or physician."
)
