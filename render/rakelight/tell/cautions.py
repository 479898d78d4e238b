"""What ships with every output, because a picture of light can be believed too much."""

CAUTIONS: tuple[str, ...] = (
    "Predicted from photometric files and assumed reflectances, not a guarantee: verify with a "
    "mock-up.",
    "Egress and emergency lighting are not assessed.",
    "Electrical work, heat clearances, mounting at height and access: by qualified people, to "
    "local codes.",
    "Check glare and direct view of sources from real positions.",
)

NOT_MODELLED = (
    "Single diodes and colour striation are not in a photometric file and are not modelled."
)
