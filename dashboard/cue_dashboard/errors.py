"""The dashboard's own faults, for the command line to catch."""


class DashboardError(Exception):
    """The dashboard cannot be shown: one sentence what is wrong, one what to do."""


class PortBusyError(DashboardError):
    """Another program listens where the dashboard was to be served.

    Parameters
    ----------
    host : str
        Address asked for.
    port : int
        Port asked for.
    """

    def __init__(self, host: str, port: int) -> None:
        self.host = host
        self.port = port
        super().__init__(
            f"Port {port} on {host} is taken by another program. "
            f"Close that program or choose another port, for example {port + 1}."
        )
