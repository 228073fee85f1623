"""linkplan: plan and check the UHF correction link between a GNSS base and its rovers."""

__version__ = "0.1.0"
