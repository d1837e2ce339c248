"""Documents: shared building blocks and one module for each PDF; `draw(data)` is pure, equal data gives equal bytes."""
