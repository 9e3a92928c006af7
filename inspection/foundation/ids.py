"""Record ids. They are made by the sender (RFC 9562, version 7), so that sending again is always safe."""

import uuid

import uuid6


def new_id() -> uuid.UUID:
    return uuid.UUID(int=uuid6.uuid7().int)
