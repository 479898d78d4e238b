"""The one error that a user's input can raise; `cli` catches it once and exits with 2."""


class InputError(Exception):
    """Input that cannot be used, said in one line a fault.

    Each line names the file, the table or line, the key, what is wrong and what would be
    right: ``hall.toml: [[run]] 1, "setback" = "1 in": inside the relief, which stands out
    32 mm. Use "against" (2 1/8 in) or more.``

    Parameters
    ----------
    *faults : str
        One line for each fault; all of them are shown.
    """

    def __init__(self, *faults: str) -> None:
        super().__init__("\n".join(faults))
        self.faults: tuple[str, ...] = faults
