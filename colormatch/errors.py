"""Everything that can go wrong in a way the user can act on.

::

    ColormatchError
    ├── InputError (also ValueError)   something the user gave cannot be used
    │   ├── ScanError                  a picture file
    │   ├── TargetError                the strip as seen in a scan
    │   │   ├── CoveredStripError      part of it is seen, too little to use
    │   │   └── OtherSheetError        a strip, but not the one that was described
    │   ├── ReferenceFileError         a file of reference values
    │   │   └── OtherSerialError       the values of another print than the strip's
    │   ├── LayoutError                a file that describes a target
    │   ├── LogFileError               a file that is no log of ours, or a damaged one
    │   ├── FitError                   readings from which no colour can be fitted
    │   │   └── ContradictedError      the reference is another sheet's
    │   └── PlacingError               tiles that cannot be put beside each other
    └── OutputError                    a result that cannot be written

Every message says what is wrong, where, and what to do next.
"""


class ColormatchError(Exception):
    """Root of all errors the command line reports in one sentence."""


class InputError(ColormatchError, ValueError):
    """Something the user gave cannot be used."""


class ScanError(InputError):
    """A scan file cannot be read as a picture this tool can work with."""


class TargetError(InputError):
    """The strip is missing from a scan, or cannot be read there."""


class CoveredStripError(TargetError):
    """A strip is seen in part: covered, dirty, clipped, or half out of the picture."""


class OtherSheetError(TargetError):
    """A strip is seen whose patches are not those of the layout or the reference."""


class ReferenceFileError(InputError):
    """A file of reference values is malformed or does not fit the target."""


class OtherSerialError(ReferenceFileError):
    """The values are those of a sheet with another serial than the strip's."""


class LayoutError(InputError):
    """A file that describes a target's marks and patches is malformed."""


class LogFileError(InputError):
    """A file given as a log is none of ours, or cannot be read as one."""


class FitError(InputError):
    """The readings do not determine a colour transform."""


class ContradictedError(FitError):
    """The readings contradict the reference: it belongs to another sheet."""


class PlacingError(InputError):
    """Tiles cannot be put beside each other by what they show."""


class OutputError(ColormatchError):
    """A result cannot be written, or would overwrite a file unasked."""
