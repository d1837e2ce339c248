"""The demonstration lab: some weeks of an invented darkroom, written through the services that clicks call."""
