"""Where a hazardous pit may be dug: checked against rules with sources, proved, and pegged out.

Import names from `siting.api`; this file imports nothing, so that `siting --help` starts at once.
"""

__version__ = "0.1.0"
