"""The demo programme: invented entries, played against today through the same door as a phone's."""
