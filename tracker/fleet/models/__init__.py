"""The register: owners, engine types, engines, their parts, meters and history."""

from tracker.fleet.models.dated import DatedFact
from tracker.fleet.models.engines import (
    Engine,
    EngineType,
    Fitting,
    Identity,
    Operation,
    Ownership,
    PartRole,
    ServiceState,
    State,
    serial_key,
    serial_order,
)
from tracker.fleet.models.events import NamedEvent, Overhaul
from tracker.fleet.models.fuel import FuelKind, FuelRecord, FuelUnit
from tracker.fleet.models.history import (
    Attribute,
    Modification,
    Review,
    Search,
    SearchKind,
)
from tracker.fleet.models.meters import Meter, MeterKind, Reading
from tracker.fleet.models.owners import Owner, OwnerKind, OwnerLogin
from tracker.fleet.models.parts import Part, PartDescription, PartFitting
from tracker.fleet.models.preferences import Preference, Units
from tracker.fleet.models.sheets import SheetKind, WaitingSheet

__all__ = [
    "Attribute",
    "DatedFact",
    "Engine",
    "EngineType",
    "Fitting",
    "FuelKind",
    "FuelRecord",
    "FuelUnit",
    "Identity",
    "Meter",
    "MeterKind",
    "Modification",
    "NamedEvent",
    "Operation",
    "Overhaul",
    "Owner",
    "OwnerKind",
    "OwnerLogin",
    "Ownership",
    "Part",
    "PartDescription",
    "PartFitting",
    "PartRole",
    "Preference",
    "Reading",
    "Review",
    "Search",
    "SearchKind",
    "ServiceState",
    "SheetKind",
    "State",
    "Units",
    "WaitingSheet",
    "serial_key",
    "serial_order",
]
