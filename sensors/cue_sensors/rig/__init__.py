"""Bluetooth without a radio: a private bus, a stand-in for the system's service, played sensors.

Linux only, for it stands in for Linux's own service. It tests this project's code and the Bluetooth
library against a model of that service, not the service, a radio or another system.
"""
