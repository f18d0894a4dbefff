"""A profile's numbers from measured landings."""
