"""Pure drawing: one scene of shapes and roles, painted as inline SVG or on a PDF canvas."""
