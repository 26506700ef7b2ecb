"""Writes what others may see, for an audience."""

from prospect.share.audience import PUBLIC_BLOCK_M, Audience, for_audience
from prospect.share.content import FieldMapContent
from prospect.share.exchange import EXCHANGE_SUFFIXES, write_exchange
from prospect.share.field_map import write_field_map

__all__ = [
    "EXCHANGE_SUFFIXES",
    "PUBLIC_BLOCK_M",
    "Audience",
    "FieldMapContent",
    "for_audience",
    "write_exchange",
    "write_field_map",
]
