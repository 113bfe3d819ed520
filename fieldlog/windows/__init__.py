"""When the shore can be worked: access windows, daylight and the calendar feed."""
