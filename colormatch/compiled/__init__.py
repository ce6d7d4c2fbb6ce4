"""The few loops that are compiled, where a C compiler was at hand when this was installed."""
